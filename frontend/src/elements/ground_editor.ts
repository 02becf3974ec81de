// Holds the work on the record for the parts inside it: keys, and not leaving with unsaved work.
// Attributes: token (of this session's forms), units, subject (chosen at first). Parts ask for deeds with `deed-wanted`.
import { mergeOperation, moveOperations, removeOperations } from "../edit/deeds.ts";
import { serverOf } from "../edit/server.ts";
import { isDirty } from "../edit/session.ts";
import { ofKey, TOOLS, type DeedName, type ToolName } from "../edit/tools.ts";
import { Work } from "../edit/work.ts";
import type { EditMap } from "./edit_map.ts";

const STEP_M = 0.1;
const BIG_STEP_M = 1;
const ARROWS: Record<string, readonly [number, number]> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

export class GroundEditor extends HTMLElement {
  #work: Work | undefined;

  get work(): Work {
    this.#work ??= new Work(serverOf(this.getAttribute("token") ?? ""), this.getAttribute("units") ?? "metric");
    return this.#work;
  }

  connectedCallback(): void {
    document.addEventListener("keydown", this.#pressed);
    window.addEventListener("beforeunload", this.#leaving);
    this.addEventListener("deed-wanted", this.#wanted);
    this.#try(this.#open());
  }

  async #open(): Promise<void> {
    await this.work.load();
    const subject = this.getAttribute("subject");
    if (subject) this.work.select([subject]);
    if (subject) this.querySelector<EditMap>("edit-map")?.showChosen();
    this.setAttribute("ready", "");
  }

  disconnectedCallback(): void {
    document.removeEventListener("keydown", this.#pressed);
    window.removeEventListener("beforeunload", this.#leaving);
    this.removeEventListener("deed-wanted", this.#wanted);
  }

  readonly #leaving = (event: Event): void => {
    if (isDirty(this.work.session)) event.preventDefault();
  };

  readonly #wanted = (event: Event): void => this.#do((event as CustomEvent<DeedName | ToolName>).detail);

  readonly #pressed = (event: KeyboardEvent): void => {
    const target = event.target as Element;
    if (target.closest("input, select, textarea, dialog") || event.altKey) return;
    const name = ofKey(event.key, event.ctrlKey || event.metaKey);
    if (this.work.tool === "move" && event.key in ARROWS) this.#nudge(event);
    else if (name !== null) this.#do(name);
    else return;
    event.preventDefault();
  };

  #nudge(event: KeyboardEvent): void {
    event.stopPropagation();
    const step = event.shiftKey ? BIG_STEP_M : STEP_M;
    const [right, up] = ARROWS[event.key] as readonly [number, number];
    this.#apply(moveOperations(this.work.selection, right * step, up * step));
  }

  #do(name: DeedName | ToolName): void {
    const { work } = this;
    const reason = work.whyNot(name);
    if (reason !== null) return work.say(reason);
    if (TOOLS.some((tool) => tool.name === name)) return work.use(name as ToolName);
    switch (name) {
      case "merge": return this.#apply([mergeOperation(work.selection)]);
      case "delete": return this.#apply(removeOperations(work.selection));
      case "renumber": case "renumber-chosen": return this.#renumber(name === "renumber-chosen");
      case "undo": return this.#try(work.undo());
      case "redo": return this.#try(work.redo());
      default: this.dispatchEvent(new CustomEvent("form-wanted", { detail: name }));
    }
  }

  #renumber(only: boolean): void {
    this.#try(this.work.renumber(only).then(() => this.querySelector<EditMap>("edit-map")?.showChosen()));
  }

  #apply(operations: Parameters<Work["apply"]>[0][]): void {
    this.work.applyAll(operations);
  }

  #try(deed: Promise<unknown>): void {
    deed.catch((problem: Error) => this.work.say(problem.message));
  }
}
