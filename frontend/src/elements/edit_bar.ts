// Under the map: what the tool at work waits for, its fields, and buttons for what a mouse does by double click.
import type { Wanted } from "../edit/deeds.ts";
import { TOOLS, type ToolName } from "../edit/tools.ts";
import { inUnits, metresOf } from "../edit/words.ts";
import { made } from "../made.ts";
import type { EditMap } from "./edit_map.ts";
import { WorkPart } from "./work_part.ts";

const DRAWING: ReadonlySet<ToolName> = new Set(["draw-area", "split", "place-along"]);
const USUAL_SPACING_M = 19.812; // 65 ft, common practice, no source

export class EditBar extends WorkPart {
  readonly #more = made("button", { type: "button", class: "tool", "aria-pressed": "false", click: () => this.#toggle() }, "Add to choice");
  readonly #kind = made("select");
  readonly #spacing = made("input", { type: "number", min: "1", max: "40", step: "0.1", inputmode: "decimal" });
  readonly #hint = made("p", { class: "edit-hint" });
  readonly #parts = {
    more: this.#more,
    none: made("button", { type: "button", click: () => this.work.select([]) }, "Choose nothing"),
    sight: made("button", { type: "button", click: () => this.#map.showChosen() }, "Show on map"),
    kind: made("label", {}, "Kind ", this.#kind),
    spacing: made("label", {}, "Spacing ", this.#spacing),
    finish: made("button", { type: "button", class: "main", click: () => this.#map.editing?.finish() }, "Finish"),
    point: made("button", { type: "button", click: () => this.#map.editing?.takeLastPointBack() }, "Take last point back"),
    stop: made("button", { type: "button", click: () => this.#map.editing?.abort() }, "Stop drawing"),
  };

  /** Whether a click adds to what is chosen, for those without a Shift key. */
  get more(): boolean {
    return this.#more.getAttribute("aria-pressed") === "true";
  }

  get wanted(): Wanted {
    const { work } = this;
    return {
      selection: work.selection,
      kind: this.#kind.value,
      spacing_m: metresOf(Number(this.#spacing.value), work.units),
      like: work.like(work.selection.find((subject) => subject.startsWith("heads:"))),
      newId: (table) => work.newId(table),
    };
  }

  get #map(): EditMap {
    return this.closest("ground-editor")?.querySelector("edit-map") as EditMap;
  }

  #toggle(): void {
    this.#more.setAttribute("aria-pressed", String(!this.more));
  }

  protected override start(): void {
    this.#kind.append(...(this.getAttribute("kinds") ?? "").split(" ").map((kind) => made("option", {}, kind)));
    this.#spacing.value = inUnits(USUAL_SPACING_M, this.work.units).toFixed(1);
    this.#parts.spacing.append(this.work.units === "us" ? " ft" : " m");
    this.replaceChildren(this.#hint, made("div", { class: "edit-fields" }, ...Object.values(this.#parts)));
  }

  protected show(): void {
    const { tool, selection } = this.work;
    const choosing = ["select", "box", "lasso"].includes(tool);
    this.#hint.textContent = TOOLS.find((one) => one.name === tool)?.hint ?? "";
    const seen: Record<string, boolean> = {
      more: choosing, none: choosing && selection.length > 0, sight: !DRAWING.has(tool) && selection.length > 0,
      kind: tool === "draw-area", spacing: tool === "place-along",
      finish: DRAWING.has(tool), point: DRAWING.has(tool), stop: DRAWING.has(tool),
    };
    for (const [name, part] of Object.entries(this.#parts)) part.hidden = !seen[name];
  }
}
