// The course with a break, the valves to close and what is dry then. A tap on a pipe moves the break there. Attributes: ground, marks
// (addresses of documents), ask (the page's address, to which the place is added), units.
import type { GroundDocument, Place } from "../map/documents.ts";
import { fetchedDocument } from "../map/fetching.ts";
import { MarkLayer, type MarksDocument } from "../map/marks.ts";
import { onThemeChange, paletteOf } from "../map/palette.ts";
import { MapStyles } from "../map/styles.ts";
import { MapView } from "../map/view.ts";

const PLAIN = { areas: {}, stations: {} };

export class ShutOffMap extends HTMLElement {
  #view: MapView | undefined;
  #marks: MarkLayer | undefined;
  #stop: (() => void)[] = [];

  connectedCallback(): void {
    this.#stop.push(onThemeChange(() => this.#restyle()));
    this.#load().catch((problem: Error) => this.#say(problem.message));
  }

  disconnectedCallback(): void {
    for (const stop of this.#stop.splice(0)) stop();
    this.#view?.close();
    this.#view = undefined;
  }

  async #load(): Promise<void> {
    const [ground, marks] = await Promise.all([
      fetchedDocument<GroundDocument>(this.getAttribute("ground") ?? ""),
      fetchedDocument<MarksDocument>(this.getAttribute("marks") ?? ""),
    ]);
    if (!this.isConnected) return;
    const frame = this.querySelector<HTMLElement>(".map-frame") ?? this;
    frame.replaceChildren();
    this.#view = new MapView(frame, ground, this.getAttribute("units") === "us" ? "us" : "metric");
    this.#view.withPipes(true);
    this.#view.withThrows(false);
    this.#marks = new MarkLayer(marks.marks);
    this.#view.add(this.#marks.layer);
    this.#view.map.on("singleclick", (event) => {
      const hit = String(this.#view?.featureAt(event.pixel)?.get("subject") ?? "");
      this.#tapped(hit, event.coordinate as unknown as Place);
    });
    this.#restyle();
    this.#view.map.getView().fit(this.#marks.source.getExtent() ?? [0, 0, 1, 1], { padding: [40, 40, 40, 40], minResolution: 0.35 });
    this.setAttribute("ready", "");
  }

  #restyle(): void {
    this.#view?.restyle(new MapStyles(paletteOf(this), PLAIN));
    this.#marks?.restyle(paletteOf(this));
  }

  #tapped(subject: string, [x, y]: Place): void {
    if (!subject.startsWith("pipes:")) return this.#say("That is no pipe. Zoom in and tap on a pipe.");
    const wanted = new URL(this.getAttribute("ask") ?? "", location.href);
    wanted.searchParams.set("at", `${x.toFixed(1)},${y.toFixed(1)}`);
    location.assign(wanted);
  }

  #say(text: string): void {
    const note = this.querySelector(".map-note");
    if (note) note.textContent = text;
  }
}
