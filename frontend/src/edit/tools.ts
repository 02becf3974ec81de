// The tools: what each is called, and why it cannot be used now.
import { idsByTable } from "./operations.ts";

export type ToolName =
  | "select" | "box" | "lasso" | "move" | "turn" | "assign" | "copy-arc" | "reshape" | "split"
  | "draw-area" | "draw-head" | "place-along" | "spot";
export type DeedName = "merge" | "delete" | "renumber" | "renumber-chosen" | "undo" | "redo" | "save" | "discard";

export interface Named<T> {
  readonly name: T;
  readonly words: string;
  readonly key: string;
  readonly hint: string;
}

/** In the order of the toolbar; keys are single, without Control. */
export const TOOLS: readonly (Named<ToolName> & { readonly group: string })[] = [
  { group: "Choose", name: "select", words: "Select", key: "s", hint: "Click a thing; with Shift, or on a phone with “Add to choice”, one more." },
  { group: "Choose", name: "box", words: "Box", key: "b", hint: "Drag a box around what you want." },
  { group: "Choose", name: "lasso", words: "Lasso", key: "l", hint: "Draw around what you want." },
  { group: "Choose", name: "spot", words: "What wets this spot?", key: "w", hint: "Click anywhere on the ground." },
  { group: "Change", name: "move", words: "Move", key: "m", hint: "Drag what is chosen; arrow keys move it by a small step." },
  { group: "Change", name: "turn", words: "Turn", key: "t", hint: "Drag the handle to where the sector should look." },
  { group: "Change", name: "assign", words: "Assign to station", key: "a", hint: "Click a head of the station that the chosen heads should join." },
  { group: "Change", name: "copy-arc", words: "Copy arc", key: "c", hint: "Click the head whose arc and bearing the chosen heads should have." },
  { group: "Change", name: "reshape", words: "Reshape", key: "r", hint: "Drag a corner, or an edge to make a new corner; Alt and click, or a finger’s tap, takes a corner away." },
  { group: "Change", name: "split", words: "Split", key: "x", hint: "Draw a line across it, then Finish." },
  { group: "Draw", name: "draw-area", words: "Draw area", key: "d", hint: "Click the corners one after another, then Finish." },
  { group: "Draw", name: "draw-head", words: "Draw head", key: "h", hint: "Click where the head stands. It is made like the chosen head." },
  { group: "Draw", name: "place-along", words: "Place along a line", key: "p", hint: "Draw the line, then Finish. Heads like the chosen one stand along it." },
];

export const DEEDS: readonly Named<DeedName>[] = [
  { name: "merge", words: "Merge", key: "g", hint: "Makes one of the chosen areas or pipes." },
  { name: "delete", words: "Delete", key: "Delete", hint: "Takes what is chosen out of the record." },
  { name: "renumber", words: "Renumber hole", key: "n", hint: "Labels the hole of what is chosen by the club’s rules. The new labels stand beside the old ones; nothing is saved yet." },
  { name: "renumber-chosen", words: "Renumber chosen", key: "k", hint: "Gives only what is chosen the label that the hole’s whole order has for it." },
  { name: "undo", words: "Undo", key: "Control+z", hint: "Takes the last change back." },
  { name: "redo", words: "Redo", key: "Control+y", hint: "Does again what was taken back." },
  { name: "save", words: "Save", key: "Control+s", hint: "Asks why, and saves everything as one revision." },
  { name: "discard", words: "Discard", key: "", hint: "Gives up everything since the last save." },
];

export interface Circumstances {
  readonly selection: readonly string[];
  readonly done: number;
  readonly undone: number;
  readonly impossible: boolean;
  readonly busy: boolean;
}

function headsOnly(selection: readonly string[], most: number): string | null {
  const by = idsByTable(selection);
  const heads = by.get("heads")?.length ?? 0;
  if (heads === 0) return most === 1 ? "Choose one head first." : "Choose heads first.";
  if (by.size > 1) return "Choose heads only.";
  return heads > most ? "Choose one head only." : null;
}

function oneShape(selection: readonly string[], tables: readonly string[]): string | null {
  const [one, ...more] = selection;
  const fits = one !== undefined && more.length === 0 && tables.includes(one.split(":", 1)[0] as string);
  return fits ? null : `Choose one ${tables.map((table) => table.slice(0, -1)).join(" or ")} first.`;
}

function canMerge(selection: readonly string[]): string | null {
  const [one] = [...idsByTable(selection)];
  const fits = idsByTable(selection).size === 1 && one && ["areas", "pipes"].includes(one[0]) && one[1].length >= 2;
  return fits ? null : "Choose two or more areas, or two or more pipes, first.";
}

function saving(now: Circumstances): string | null {
  if (now.done === 0) return "Nothing has changed.";
  return now.impossible ? "A change cannot be made; undo it first." : null;
}

function canRenumber(selection: readonly string[], of: readonly string[]): string | null {
  const chosen = [...idsByTable(selection).keys()];
  const fits = chosen.length > 0 && chosen.every((table) => of.includes(table));
  return fits ? null : `Choose ${of.slice(0, -1).join(", ")} or ${of.at(-1)} first.`;
}

/** Why a tool or deed cannot be used now, as a sentence; null where it can. */
export function whyNot(name: ToolName | DeedName, now: Circumstances): string | null {
  if (now.busy) return "Wait until the server has answered.";
  const { selection } = now;
  switch (name) {
    case "turn": case "place-along": return headsOnly(selection, 1);
    case "assign": case "copy-arc": return headsOnly(selection, Infinity);
    case "reshape": case "split": return oneShape(selection, ["areas", "pipes", "holes"]);
    case "renumber": return canRenumber(selection, ["heads", "stations", "holes"]);
    case "renumber-chosen": return canRenumber(selection, ["heads", "stations"]);
    case "merge": return canMerge(selection);
    case "delete": return selection.length === 0 ? "Choose something first." : null;
    case "undo": return now.done === 0 ? "There is nothing to undo." : null;
    case "redo": return now.undone === 0 ? "Nothing was undone." : null;
    case "save": return saving(now);
    case "discard": return now.done + now.undone === 0 ? "Nothing has changed." : null;
    default: return null;
  }
}

/** The tool or deed of a key, as `KeyboardEvent` names it. */
export function ofKey(key: string, control: boolean): ToolName | DeedName | null {
  const wanted = control ? `Control+${key.toLowerCase()}` : key.length === 1 ? key.toLowerCase() : key;
  return [...TOOLS, ...DEEDS].find((one) => one.key !== "" && one.key === wanted)?.name ?? null;
}
