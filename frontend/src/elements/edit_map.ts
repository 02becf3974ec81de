// The map of the editor: draws the ground as it will be, and hands what a tool did to the work.
// Attributes: units, pipes. Tells `spot-asked` with a place.
import * as deeds from "../edit/deeds.ts";
import { parted, type Operation } from "../edit/operations.ts";
import type { ToolName } from "../edit/tools.ts";
import { NOTHING_SHOWN, type Shown } from "../map/documents.ts";
import { Editing, type Click } from "../map/editing.ts";
import { onThemeChange, paletteOf } from "../map/palette.ts";
import { MapStyles } from "../map/styles.ts";
import type { Done } from "../map/tools.ts";
import { MapView } from "../map/view.ts";
import type { EditBar } from "./edit_bar.ts";
import { WorkPart } from "./work_part.ts";

/** Tools that show the chosen thing itself, and so follow it. */
const FOLLOWING: ReadonlySet<ToolName> = new Set(["turn", "reshape"]);

export class EditMap extends WorkPart {
  #view: MapView | undefined;
  #editing: Editing | undefined;
  #drawn = "";
  #asking = false;
  #stop: (() => void) | undefined;

  get editing(): Editing | undefined {
    return this.#editing;
  }

  override disconnectedCallback(): void {
    super.disconnectedCallback();
    this.#stop?.();
    this.#view?.close();
  }

  #open(): void {
    const frame = this.querySelector<HTMLElement>(".map-frame") as HTMLElement;
    frame.replaceChildren();
    this.#view = new MapView(frame, this.work.ground, this.getAttribute("units") === "us" ? "us" : "metric");
    this.#view.withPipes(true);
    this.#editing = new Editing(this.#view, (click) => this.#clicked(click));
    this.#stop = onThemeChange(() => this.#restyle());
    this.#restyle();
    this.setAttribute("ready", "");
  }

  #restyle(): void {
    const areas = Object.fromEntries(this.work.ground.areas.map((area) => [area.id, `turf-${area.kind}`]));
    const shown: Shown = { ...NOTHING_SHOWN, areas };
    const styles = new MapStyles(paletteOf(this), shown);
    this.#view?.restyle(styles);
    this.#editing?.restyle(styles);
  }

  protected show(): void {
    const { work } = this;
    if (!this.#view && work.ground.areas.length + work.ground.heads.length > 0) this.#open();
    if (!this.#view) return;
    const redrawn = this.#view.ground !== work.ground;
    if (redrawn) {
      this.#view.redraw(work.ground);
      this.#restyle();
    }
    const state = `${work.tool} ${work.selection.join(" ")}`;
    if (redrawn || state !== this.#drawn) this.#view.mark(work.selection);
    // A late answer of the server must not take away what somebody is drawing.
    const answered = this.#asking && !work.asking;
    this.#asking = work.asking;
    if (answered) this.#editing?.answered();
    if (state !== this.#drawn || (answered && FOLLOWING.has(work.tool))) this.#editing?.use(work.tool, work.selection, (done) => this.#did(done));
    this.#drawn = state;
  }

  /** Bring what is chosen into sight. */
  showChosen(): void {
    this.#view?.showMarked();
  }

  get #bar(): EditBar {
    return this.closest("ground-editor")?.querySelector("edit-bar") as EditBar;
  }

  #clicked({ subject, place, more }: Click): void {
    const { work } = this;
    if (work.tool === "spot") this.dispatchEvent(new CustomEvent("spot-asked", { bubbles: true, detail: place }));
    else if (work.tool === "select") this.#choose(subject ? [subject] : [], more || this.#bar.more);
    else if (!subject?.startsWith("heads:")) work.say("Click a head.");
    else this.#apply([deeds.pointedOperation(work.tool, work.selection, parted(subject)[1], work.ground.heads)]);
  }

  #choose(subjects: readonly string[], more: boolean): void {
    this.work.select(deeds.chosenWith(this.work.selection, subjects, more));
  }

  #did(done: Done): void {
    const { work } = this;
    if (done.is === "chosen") return this.#choose(done.subjects, done.more || this.#bar.more);
    this.#apply(deeds.doneOperations(work.tool, done, this.#bar.wanted));
  }

  #apply(operations: readonly (Operation | null)[]): void {
    if (operations.includes(null)) this.work.say("That head has nothing to give. Click another.");
    this.work.applyAll(operations.filter((one) => one !== null));
  }
}
