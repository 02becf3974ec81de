// The toolbar: a button a tool, in words. What cannot be used now stays there and says why.
import { DEEDS, TOOLS, type DeedName, type ToolName } from "../edit/tools.ts";
import { made } from "../made.ts";
import { WorkPart } from "./work_part.ts";

const KEEP_FROM = DEEDS.findIndex((deed) => deed.name === "undo"); // those before it change the record
const keyWords = (key: string): string => key.replace("Control+", "Ctrl ").replace(/\b[a-z]$/, (letter) => letter.toUpperCase());

export class EditTools extends WorkPart {
  readonly #buttons = new Map<ToolName | DeedName, HTMLButtonElement>();

  protected override start(): void {
    const groups = [...new Set(TOOLS.map((tool) => tool.group))];
    const rows = groups.map((group) => this.#group(group, TOOLS.filter((tool) => tool.group === group)));
    rows[1]?.append(...DEEDS.slice(0, KEEP_FROM).map((deed) => this.#button(deed)));
    this.replaceChildren(made("div", { class: "tool-strip" }, ...rows), this.#group("Keep", DEEDS.slice(KEEP_FROM)));
  }

  #group(name: string, tools: readonly { name: ToolName | DeedName; words: string; key: string; hint: string }[]): HTMLElement {
    const title = made("span", { class: "tool-group-name", "aria-hidden": "true" }, name);
    return made("div", { role: "group", "aria-label": name, class: `tool-group tools-${name.toLowerCase()}` }, title, ...tools.map((tool) => this.#button(tool)));
  }

  #button(tool: { name: ToolName | DeedName; words: string; key: string; hint: string }): HTMLButtonElement {
    const click = (): void => void this.dispatchEvent(new CustomEvent("deed-wanted", { bubbles: true, detail: tool.name }));
    const attributes = { type: "button", class: tool.name === "save" ? "main" : "tool", "data-tool": tool.name, click };
    const button = made("button", attributes, tool.words);
    if (tool.key) button.setAttribute("aria-keyshortcuts", tool.key);
    button.dataset["hint"] = `${tool.hint}${tool.key ? ` Key: ${keyWords(tool.key)}.` : ""}`;
    this.#buttons.set(tool.name, button);
    return button;
  }

  protected show(): void {
    for (const [name, button] of this.#buttons) {
      const reason = this.work.whyNot(name);
      button.setAttribute("aria-disabled", String(reason !== null));
      button.title = reason ?? button.dataset["hint"] ?? "";
      if (TOOLS.some((tool) => tool.name === name)) button.setAttribute("aria-pressed", String(this.work.tool === name));
    }
    const count = this.work.session.done.length;
    const save = this.#buttons.get("save");
    if (save) save.textContent = count > 0 ? `Save ${count}` : "Save";
  }
}
