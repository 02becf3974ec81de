// The accepted changes, the newest first, each with the way back; read when somebody opens them.
import type { Revision } from "../edit/server.ts";
import { isDirty } from "../edit/session.ts";
import { made } from "../made.ts";
import { WorkPart } from "./work_part.ts";

export class PastRevisions extends WorkPart {
  readonly #list = made("ol", { class: "revisions" });
  readonly #fold = made("details", { class: "panel", toggle: () => this.#read() }, made("summary", {}, "Revisions"), this.#list);
  #message = "";

  protected override start(): void {
    this.replaceChildren(this.#fold);
  }

  protected show(): void {
    const { message } = this.work;
    const saved = message !== this.#message && /revision/i.test(message);
    this.#message = message;
    if (saved) this.#read();
  }

  #read(): void {
    if (!this.#fold.open) return;
    this.work.server.revisions().then((all) => this.#list.replaceChildren(...all.map((one) => this.#line(one))))
      .catch((problem: Error) => this.work.say(problem.message));
  }

  #line(one: Revision): HTMLElement {
    const back = one.undone_by
      ? made("small", {}, `taken back by ${one.undone_by}`)
      : made("button", { type: "button", "aria-label": `Take revision ${one.revision} back`, click: () => this.#takeBack(one.revision) }, "Take back");
    return made("li", {}, made("p", {}, made("b", {}, `Revision ${one.revision}`), ` ${one.time}, ${one.who}: ${one.why}. ${one.summary}`), back);
  }

  #takeBack(revision: string): void {
    if (isDirty(this.work.session)) return this.work.say("Save or discard what is not saved yet; then take a revision back.");
    this.work.takeBack(revision).catch((problem: Error) => this.work.say(problem.message));
  }
}
