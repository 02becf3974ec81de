// A chart whose specification the server makes. Attribute: src. Drawn without eval (the
// page's content policy forbids it), in the page's own colours.
import embed, { type Result } from "vega-embed";
import { expressionInterpreter } from "vega-interpreter";
import { chartConfig } from "../chart/config.ts";
import { onThemeChange } from "../map/palette.ts";

interface Specification {
  readonly usermeta?: { readonly kinds?: readonly string[] };
}

export class FlowChart extends HTMLElement {
  #drawn: Result | undefined;
  #stop: (() => void)[] = [];

  connectedCallback(): void {
    const draw = (): void => void this.#draw().catch(() => this.#fail());
    this.#stop.push(onThemeChange(draw));
    draw();
  }

  disconnectedCallback(): void {
    for (const stop of this.#stop.splice(0)) stop();
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
    this.setAttribute("ready", "");
  }

  #fail(): void {
    const frame = this.querySelector<HTMLElement>(".chart-frame") ?? this;
    frame.textContent = "The chart did not come. The table below has the same numbers.";
  }
}
