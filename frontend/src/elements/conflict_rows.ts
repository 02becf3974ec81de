// Somebody saved the same rows first: both versions side by side, a choice for each, and save again.
import { conflictLines, whose, type Choice, type Conflict } from "../edit/conflicts.ts";
import { shownValue } from "../edit/rows.ts";
import { made } from "../made.ts";
import type { SaveForm } from "./save_form.ts";
import { WorkPart } from "./work_part.ts";

export class ConflictRows extends WorkPart {
  #shown: readonly Conflict[] = [];
  #choices: Record<string, Choice> = {};

  protected show(): void {
    const { conflicts } = this.work;
    if (conflicts === this.#shown) return;
    this.#shown = conflicts;
    this.#choices = {};
    this.hidden = conflicts.length === 0;
    this.replaceChildren(...(this.hidden ? [] : [
      made("h2", { id: "conflict-title", tabindex: "-1" }, "Somebody was first"),
      made("p", {}, "Nothing is saved yet, and nothing is lost. Choose for each row."),
      ...conflicts.map((conflict) => this.#row(conflict)),
      made("p", { class: "deeds" }, made("button", { type: "button", class: "main", click: () => this.#save() }, "Save again")),
    ]));
    this.querySelector<HTMLElement>("h2")?.focus();
  }

  #row(conflict: Conflict): HTMLElement {
    const lines = conflictLines(conflict).map((line) => made("tr", { class: line.differs ? "differs" : "" },
      made("th", { scope: "row" }, line.column.replaceAll("_", " ")),
      made("td", {}, shownValue(line.yours)), made("td", {}, shownValue(line.theirs))));
    const head = made("tr", {}, made("td"), made("th", { scope: "col" }, "Yours"), made("th", { scope: "col" }, whose(conflict)));
    return made("fieldset", { class: "conflict" }, made("legend", {}, conflict.subject),
      made("div", { class: "scroll", tabindex: "0" }, made("table", { class: "rows" }, made("thead", {}, head), made("tbody", {}, ...lines))),
      made("p", { class: "choice-pair" }, this.#choice(conflict, "mine", "Keep mine"), this.#choice(conflict, "theirs", "Take theirs")));
  }

  #choice(conflict: Conflict, choice: Choice, words: string): HTMLElement {
    const change = (): void => {
      this.#choices[conflict.subject] = choice;
    };
    return made("label", {}, made("input", { type: "radio", name: conflict.subject, value: choice, change }), ` ${words}`);
  }

  #save(): void {
    const form = this.closest("ground-editor")?.querySelector("save-form") as SaveForm;
    this.work.resolve(this.#choices, form.why).catch((problem: Error) => this.work.say(problem.message));
  }
}
