// Bars of a night that can be dragged, or moved with the arrow keys; the server's referee is
// asked through the form named by the attribute `form`. Without it the bars only show.
import { clampedStart, clockAfter } from "../pins.ts";

type Bar = SVGSVGElement & { dataset: DOMStringMap };

export class PinTimes extends HTMLElement {
  #drag: { bar: Bar; pointer: number; from_px: number; start: number } | undefined;

  connectedCallback(): void {
    if (!this.#form) return;
    this.addEventListener("pointerdown", this.#down);
    this.addEventListener("pointermove", this.#move);
    this.addEventListener("pointerup", this.#up);
    this.addEventListener("pointercancel", this.#cancel);
    this.addEventListener("keydown", this.#key);
    this.setAttribute("ready", "");
  }

  disconnectedCallback(): void {
    this.removeEventListener("pointerdown", this.#down);
    this.removeEventListener("pointermove", this.#move);
    this.removeEventListener("pointerup", this.#up);
    this.removeEventListener("pointercancel", this.#cancel);
    this.removeEventListener("keydown", this.#key);
  }

  get #form(): HTMLFormElement | null {
    return document.getElementById(this.getAttribute("form") ?? "") as HTMLFormElement | null;
  }

  #bar(event: Event): Bar | null {
    return (event.target as Element).closest<Bar>("svg[data-station]");
  }

  #show(bar: Bar, minute: number): void {
    const first = Number(bar.dataset["start"]);
    bar.querySelector(".bars")?.setAttribute("transform", `translate(${minute - first} 0)`);
    bar.setAttribute("aria-valuenow", String(minute));
    bar.setAttribute("aria-valuetext", this.#clock(bar, minute));
    const words = bar.parentElement?.querySelector(".start");
    if (words) words.textContent = this.#clock(bar, minute);
  }

  #clock(bar: Bar, minute: number): string {
    bar.dataset["clock"] ??= bar.getAttribute("aria-valuetext") ?? "00:00";
    return clockAfter(bar.dataset["clock"], minute - Number(bar.dataset["start"]));
  }

  #now(bar: Bar): number {
    return Number(bar.getAttribute("aria-valuenow"));
  }

  #clamped(bar: Bar, minute: number): number {
    return clampedStart(minute, Number(bar.getAttribute("aria-valuemax")));
  }

  #ask(bar: Bar): void {
    const form = this.#form;
    if (!form) return;
    (form.elements.namedItem("station") as HTMLInputElement).value = bar.dataset["station"] ?? "";
    (form.elements.namedItem("start") as HTMLInputElement).value = this.#clock(bar, this.#now(bar));
    form.requestSubmit();
  }

  readonly #down = (event: PointerEvent): void => {
    const bar = this.#bar(event);
    if (!bar || event.button !== 0) return;
    bar.setPointerCapture(event.pointerId);
    this.#drag = { bar, pointer: event.pointerId, from_px: event.clientX, start: this.#now(bar) };
  };

  readonly #move = (event: PointerEvent): void => {
    if (!this.#drag || event.pointerId !== this.#drag.pointer) return;
    const { bar, from_px, start } = this.#drag;
    const minutes = ((event.clientX - from_px) / bar.getBoundingClientRect().width) * Number(this.getAttribute("night-minutes"));
    this.#show(bar, this.#clamped(bar, start + Math.round(minutes)));
  };

  readonly #up = (): void => {
    const drag = this.#drag;
    this.#drag = undefined;
    if (drag && this.#now(drag.bar) !== drag.start) this.#ask(drag.bar);
  };

  readonly #cancel = (): void => {
    if (this.#drag) this.#show(this.#drag.bar, this.#drag.start);
    this.#drag = undefined;
  };

  readonly #key = (event: KeyboardEvent): void => {
    const bar = this.#bar(event);
    const step = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
    if (!bar) return;
    if (step) this.#show(bar, this.#clamped(bar, this.#now(bar) + step * (event.shiftKey ? 10 : 1)));
    else if (event.key === "Escape") this.#show(bar, Number(bar.dataset["start"]));
    else if (event.key === "Enter") this.#ask(bar);
    else return;
    event.preventDefault();
  };
}
