// A chart whose specification the server makes. Attribute: src. Drawn without eval (the
// page's content policy forbids it), in the page's own colours. Attribute zoom: the field of
// its x axis, where buttons with data-zoom or data-move may change what is seen of it.
import embed, { type Result } from "vega-embed";
import { expressionInterpreter } from "vega-interpreter";
import { chartConfig } from "../chart/config.ts";
import { movedDomain } from "../chart/domain.ts";
import { onThemeChange } from "../map/palette.ts";

interface Specification {
  readonly usermeta?: { readonly kinds?: readonly string[] };
}

export class FlowChart extends HTMLElement {
  #drawn: Result | undefined;
  #whole: [number, number] | undefined;
  #stop: (() => void)[] = [];

  connectedCallback(): void {
    const draw = (): void => void this.#draw().catch(() => this.#fail());
    this.#stop.push(onThemeChange(draw));
    this.addEventListener("click", this.#zoom);
    draw();
  }

  disconnectedCallback(): void {
    for (const stop of this.#stop.splice(0)) stop();
    this.removeEventListener("click", this.#zoom);
    this.#drawn?.finalize();
    this.#drawn = undefined;
  }

  async #draw(): Promise<void> {
    const answer = await fetch(this.getAttribute("src") ?? "");
    if (!answer.ok) throw new Error(String(answer.status));
    const spec = (await answer.json()) as Specification;
    const frame = this.querySelector<HTMLElement>(".chart-frame") ?? this;
    const colour = (name: string): string => getComputedStyle(this).getPropertyValue(`--${name}`).trim();
    this.#drawn?.finalize();
    this.#drawn = await embed(frame, spec as object, {
      actions: false,
      ast: true,
      expr: expressionInterpreter,
      renderer: "canvas",
      defaultStyle: false,
      tooltip: { disableDefaultStyle: true, theme: "page" },
      config: chartConfig(spec.usermeta?.kinds ?? [], colour),
    });
    this.#whole = this.#domain;
    const buttons = this.querySelector<HTMLElement>(".chart-zoom");
    if (buttons) buttons.hidden = !this.#whole;
    this.setAttribute("ready", "");
  }

  get #domain(): [number, number] | undefined {
    if (!this.hasAttribute("zoom")) return undefined;
    const scale = this.#drawn?.view.scale("x") as { domain(): [number, number] } | undefined;
    return scale?.domain();
  }

  readonly #zoom = (event: Event): void => {
    const button = (event.target as Element).closest<HTMLElement>("[data-zoom], [data-move]");
    const [whole, seen] = [this.#whole, this.#domain];
    if (!button || !whole || !seen) return;
    const wanted = movedDomain(whole, seen, Number(button.dataset["zoom"] ?? 1), Number(button.dataset["move"] ?? 0));
    void this.#drawn?.view.signal(`zoomed_${this.getAttribute("zoom")}`, wanted).runAsync();
  };

  #fail(): void {
    const frame = this.querySelector<HTMLElement>(".chart-frame") ?? this;
    frame.textContent = "The chart did not come. The table below has the same numbers.";
  }
}
