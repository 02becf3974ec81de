// The work on the record in one page: what is known, chosen, done and said. Elements listen
// for `changed` and read; they change it through these methods only.
import { NOTHING_GROUND, type GroundDocument } from "../map/documents.ts";
import { withBelongings } from "./belongings.ts";
import { chosenRows, type Choice, type Conflict } from "./conflicts.ts";
import { nextId, renumberNaming, renumberOperations } from "./deeds.ts";
import { idsByTable, parted, subjectsOf, type Operation, type Value, type Values } from "./operations.ts";
import { overlaid, type FindingRow, type Preview } from "./preview.ts";
import { shownRows, type RowsDocument, type ShownRow } from "./rows.ts";
import type { Belongings, Saved, Server } from "./server.ts";
import { applied, isDirty, NOTHING_DONE, redone, seenNow, settled, undone, type Session } from "./session.ts";
import { whyNot, type Circumstances, type DeedName, type ToolName } from "./tools.ts";

export class Work extends EventTarget {
  readonly server: Server;
  readonly units: string;
  session: Session = NOTHING_DONE;
  selection: readonly string[] = [];
  tool: ToolName = "select";
  table = "heads";
  ground: GroundDocument = NOTHING_GROUND;
  preview: Preview | null = null;
  conflicts: readonly Conflict[] = [];
  findings: readonly FindingRow[] = [];
  message = "";
  /** The last revision saved here, which can be taken back. */
  revision: string | null = null;
  busy = false;
  /** Whether the server is being asked what the operations would make of the record. */
  asking = false;
  #base: GroundDocument = NOTHING_GROUND;
  #tables = new Map<string, RowsDocument>();
  #belongings: Belongings = {};
  #asked = 0;

  constructor(server: Server, units: string) {
    super();
    this.server = server;
    this.units = units;
  }

  #tell(message?: string): void {
    if (message !== undefined) this.message = message;
    this.dispatchEvent(new Event("changed"));
  }

  /** Read map and tables anew. */
  async load(): Promise<void> {
    const names = [...new Set(["heads", "areas", ...this.#tables.keys(), this.table])];
    const rest = Promise.all([this.server.belongings(), ...names.map((name) => this.server.rows(name))]);
    this.#base = await this.server.shapes();
    this.ground = overlaid(this.#base, this.preview);
    this.#tell(); // the map is there before the rows are
    const [belongings, ...tables] = await rest;
    this.#belongings = belongings;
    names.forEach((name, place) => this.#keep(name, tables[place] as RowsDocument));
    this.#tell();
  }

  #keep(name: string, rows: RowsDocument): void {
    this.#tables.set(name, withBelongings(name, rows, this.#belongings));
  }

  async showTable(name: string): Promise<void> {
    if (!this.#tables.has(name)) this.#keep(name, await this.server.rows(name));
    this.table = name;
    this.#tell();
  }

  columns(table = this.table): RowsDocument["columns"] {
    return this.#tables.get(table)?.columns ?? [];
  }

  rows(table = this.table): ShownRow[] {
    const document = this.#tables.get(table);
    return document ? shownRows(table, document, this.preview) : [];
  }

  row(subject: string): ShownRow | undefined {
    const [table, id] = parted(subject);
    return this.rows(table).find((row) => row.id === id);
  }

  /** The hole that a head, station or hole is of. */
  holeOf(subject: string): Value | undefined {
    const values = this.row(subject)?.values;
    return this.#belongings[subject]?.["hole"] ?? (subject.startsWith("holes:") ? values?.["number"] : values?.["hole"]);
  }

  readonly #digestOf = (subject: string): string | undefined => {
    const [table, id] = parted(subject);
    return this.#tables.get(table)?.rows.find((row) => row.id === id)?.digest;
  };

  get circumstances(): Circumstances {
    const { selection, busy, session } = this;
    const impossible = (this.preview?.impossible.length ?? 0) > 0;
    return { selection, busy, impossible, done: session.done.length, undone: session.undone.length };
  }

  whyNot(name: ToolName | DeedName): string | null {
    return whyNot(name, this.circumstances);
  }

  use(tool: ToolName): void {
    const reason = this.whyNot(tool);
    if (reason === null) this.tool = tool;
    this.#tell(reason ?? "");
  }

  select(subjects: readonly string[]): void {
    this.selection = [...new Set(subjects)];
    if (this.whyNot(this.tool) !== null) this.tool = "select";
    this.#tell();
  }

  say(message: string): void {
    this.#tell(message);
  }

  /** Do something; it is kept only if the server says that it can be done. */
  async apply(operation: Operation): Promise<void> {
    await this.#loadTables(subjectsOf(operation).map((subject) => parted(subject)[0]));
    const before = this.session;
    const tried = applied(this.session, operation, this.#digestOf);
    await this.#go(tried);
    const refused = this.preview?.impossible.find((one) => one.at === tried.done.length - 1);
    if (!refused || this.session !== tried) return;
    await this.#go(before);
    this.#tell(refused.message);
  }

  /** Label the holes of what is chosen by the club's rules, or only what is chosen; rows are named, so that a conflict over one is told. */
  async renumber(only: boolean): Promise<void> {
    await this.#loadTables([...idsByTable(this.selection).keys(), "stations"]);
    const wanted = renumberOperations(this.selection, (subject) => this.holeOf(subject), only);
    if (wanted.length === 0) return this.#tell("What is chosen is of no hole.");
    this.#tell("The server looks at it …");
    const said: string[] = [];
    for (const operation of wanted) said.push(await this.#renumbered(operation));
    const [first] = said;
    if (first !== undefined && !said.includes("")) this.#tell(first);
  }

  /** Why a renumbering was not done; nothing where it was. */
  async #renumbered(operation: ReturnType<typeof renumberOperations>[number]): Promise<string> {
    const tried = await this.tried(operation);
    const refused = tried.impossible.find((one) => one.at === this.session.done.length);
    if (refused) return refused.message;
    const named = renumberNaming(operation, tried, (subject) => this.row(subject)?.values["label"]);
    if (named === null) return "Every label is there already, in the club’s order.";
    await this.apply(named);
    return "";
  }

  /** Several operations one after another; what goes wrong is said. */
  applyAll(operations: readonly Operation[]): void {
    const all = operations.reduce((before, one) => before.then(() => this.apply(one)), Promise.resolve());
    all.catch((problem: Error) => this.say(problem.message));
  }

  async #loadTables(tables: readonly string[]): Promise<void> {
    for (const table of new Set(tables)) if (!this.#tables.has(table)) this.#keep(table, await this.server.rows(table));
  }

  /** What an operation would change, without doing it. */
  async tried(operation: Operation): Promise<Preview> {
    return this.server.preview([...this.session.done, operation]);
  }

  async #go(session: Session): Promise<void> {
    this.session = session;
    this.#asked += 1;
    const mine = this.#asked;
    this.asking = true;
    this.#tell("");
    const preview = await this.#previewed(session, mine);
    if (mine !== this.#asked) return;
    this.asking = false;
    this.preview = preview;
    this.findings = preview?.findings ?? [];
    this.ground = overlaid(this.#base, preview);
    this.selection = this.selection.filter((subject) => this.#isThere(subject));
    this.#tell("");
  }

  #isThere(subject: string): boolean {
    if (!this.#tables.has(parted(subject)[0])) return true; // nobody has looked at that table yet
    return (this.row(subject)?.state ?? "removed") !== "removed";
  }

  /** A preview that does not come leaves the work as it is, to be tried again. */
  async #previewed(session: Session, mine: number): Promise<Preview | null> {
    try {
      return isDirty(session) ? await this.server.preview(session.done) : null;
    } catch (problem) {
      if (mine === this.#asked) this.asking = false;
      throw problem;
    }
  }

  undo(): Promise<void> {
    return this.#go(undone(this.session));
  }

  redo(): Promise<void> {
    return this.#go(redone(this.session));
  }

  async discard(): Promise<void> {
    this.conflicts = [];
    await this.#go(NOTHING_DONE);
    this.#tell("Discarded.");
  }

  /** Save everything as one revision. */
  async save(why: string): Promise<void> {
    await this.#waiting(async () => {
      const saved = await this.server.save(this.session.done, seenNow(this.session), why);
      await this.#answered(saved, (revision) => `Saved as revision ${revision}.`);
    });
  }

  /** Take a saved revision back, as a new revision. */
  async takeBack(revision: string): Promise<void> {
    await this.#waiting(async () => {
      await this.#answered(await this.server.undo(revision), () => `Revision ${revision} is undone.`);
      this.revision = null;
    });
  }

  async #waiting(deed: () => Promise<void>): Promise<void> {
    this.busy = true;
    this.#tell();
    try {
      await deed();
    } finally {
      this.busy = false;
      this.#tell();
    }
  }

  async #answered(saved: Saved, words: (revision: string) => string): Promise<void> {
    this.conflicts = saved.is === "conflict" ? saved.conflicts : [];
    if (saved.is !== "saved") return this.#tell(saved.message);
    this.revision = saved.revision;
    await this.#go(NOTHING_DONE);
    await this.load();
    this.findings = saved.findings;
    this.#tell(words(saved.revision));
  }

  /** After a conflict: what is there now is read, each row goes mine or theirs, and all is saved again. */
  async resolve(choices: Readonly<Record<string, Choice>>, why: string): Promise<void> {
    const rows = chosenRows(this.conflicts, choices);
    if (!rows) return this.#tell("Choose yours or theirs for every row.");
    await this.load();
    const mine = rows.mine.map((subject) => [subject, this.#digestOf(subject)] as const);
    const known = mine.filter((one): one is [string, string] => one[1] !== undefined);
    const told = this.conflicts.filter((one) => one.digest).map((one) => [one.subject, one.digest as string]);
    this.conflicts = [];
    await this.#go(settled(this.session, { ...Object.fromEntries(known), ...Object.fromEntries(told) }, rows.theirs));
    if (isDirty(this.session)) await this.save(why);
    else this.#tell("Nothing of yours is left to save.");
  }

  /** A free id for a new row, also beside those that are not saved yet. */
  newId(table: string): string {
    return nextId(this.rows(table).map((row) => row.id), table.slice(0, 1).toUpperCase());
  }

  /** Values of a new row like a chosen one: what it is, not what it is called. */
  like(subject: string | undefined): Values {
    const values = subject ? this.row(subject)?.values : undefined;
    const left = new Set(["id", "digest", "label", "elevation_m", "measured_flow_l_s", "evidence", "hole", "kind", "throw_m"]);
    return Object.fromEntries(Object.entries(values ?? {}).filter(([name, value]) => !left.has(name) && value !== null));
  }
}
