// "What wets this spot?": the heads that reach a place, and how much each gives.
import type { Spot, SpotHead } from "../edit/server.ts";
import { lengthWords } from "../edit/words.ts";
import { made } from "../made.ts";
import type { Place } from "../map/documents.ts";
import { WorkPart } from "./work_part.ts";

const MM_PER_IN = 25.4;

export class SpotAnswer extends WorkPart {
  protected override start(): void {
    this.closest("ground-editor")?.addEventListener("spot-asked", this.#asked);
  }

  override disconnectedCallback(): void {
    super.disconnectedCallback();
    document.querySelector("ground-editor")?.removeEventListener("spot-asked", this.#asked);
  }

  protected show(): void {
    if (this.work.tool !== "spot") this.replaceChildren();
  }

  readonly #asked = (event: Event): void => {
    const place = (event as CustomEvent<Place>).detail;
    this.work.server.wets(place).then((spot) => this.#answers(spot)).catch((problem: Error) => this.work.say(problem.message));
  };

  #rate(rate_mm_h: number | null | undefined): string {
    if (rate_mm_h === null || rate_mm_h === undefined) return "–";
    return this.work.units === "us" ? `${(rate_mm_h / MM_PER_IN).toFixed(3)} in/h` : `${rate_mm_h.toFixed(2)} mm/h`;
  }

  #row(head: SpotHead, total: number | null | undefined): HTMLElement {
    const share = head.share ?? (head.rate_mm_h && total ? head.rate_mm_h / total : null);
    const name = made("button", { type: "button", class: "quiet", click: () => this.work.select([`heads:${head.id}`]) }, head.label || head.id);
    return made("tr", {}, made("th", { scope: "row" }, name), made("td", {}, head.station ?? "–"),
      made("td", { class: "number" }, lengthWords(head.distance_m, this.work.units)), made("td", { class: "number" }, this.#rate(head.rate_mm_h)),
      made("td", { class: "number" }, share === null ? "–" : `${Math.round(share * 100)} %`));
  }

  #answers(spot: Spot): void {
    const heads = ["Head", "Station", "Away", "Rate", "Share"].map((name) => made("th", { scope: "col" }, name));
    const rows = spot.heads.map((head) => this.#row(head, spot.total_mm_h));
    const table = made("div", { class: "scroll", tabindex: "0" }, made("table", { class: "rows" }, made("thead", {}, made("tr", {}, ...heads)), made("tbody", {}, ...rows)));
    const words = rows.length === 0 ? "No head reaches this spot." : `All together ${this.#rate(spot.total_mm_h)} while they run.`;
    this.replaceChildren(made("h3", {}, "What wets this spot"), made("p", {}, words), ...(rows.length > 0 ? [table] : []));
  }
}
