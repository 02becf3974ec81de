// What was said last, what is chosen, what is not saved yet, and what the server doubts about it.
import { idsByTable } from "../edit/operations.ts";
import { counted, operationWords } from "../edit/words.ts";
import { made } from "../made.ts";
import { WorkPart } from "./work_part.ts";

const MOST_SHOWN = 12;

export class EditState extends WorkPart {
  readonly #said = made("p", { class: "edit-said", "aria-live": "polite" });
  readonly #chosen = made("p", { class: "edit-chosen", "aria-live": "polite" });
  readonly #done = made("ol", { class: "edit-done" });
  readonly #findings = made("ul", { class: "findings" });
  readonly #back = made("button", { type: "button", click: () => this.#takeBack() });

  protected override start(): void {
    this.replaceChildren(this.#said, this.#chosen, this.#back, this.#done, this.#findings);
  }

  #takeBack(): void {
    const { revision } = this.work;
    if (revision !== null) this.work.takeBack(revision).catch((problem: Error) => this.work.say(problem.message));
  }

  protected show(): void {
    const { work } = this;
    const chosen = [...idsByTable(work.selection)].map(([table, ids]) => counted(ids.length, table)).join(", ");
    this.#said.textContent = work.message || (work.asking ? "The server looks at it …" : "");
    this.#chosen.textContent = chosen ? `Chosen: ${chosen}.` : "Nothing is chosen.";
    this.#back.hidden = work.revision === null;
    this.#back.textContent = `Undo revision ${work.revision ?? ""}`;
    const impossible = new Map(work.preview?.impossible.map((one) => [one.at, one.message]));
    this.#done.replaceChildren(...work.session.done.map((operation, at) => {
      const problem = impossible.get(at);
      return made("li", {}, operationWords(operation, work.units), problem ? made("span", { class: "why-not" }, problem) : null);
    }));
    const more = work.findings.length - MOST_SHOWN;
    const shown = work.findings.slice(0, MOST_SHOWN).map((finding) => made("li", { class: "finding" },
      made("span", { class: `severity severity-${finding.severity}` }, finding.severity),
      made("p", {}, made("b", {}, finding.subject), ` ${finding.message} `, made("span", { class: "fix" }, finding.fix)),
    ));
    this.#findings.replaceChildren(...shown, ...(more > 0 ? [made("li", {}, `and ${more} more`)] : []));
  }
}
