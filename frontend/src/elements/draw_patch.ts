// A map on which a patch of turf is drawn; its corners go into the form's field named by `field`.
// Attributes: ground, patches (addresses of documents), units, field (id of an input). Without
// script the corners, or a head and a radius, are typed.
import { outlineText, type Ring } from "../map/outline.ts";
import type { GroundDocument } from "../map/documents.ts";
import { Editing } from "../map/editing.ts";
import { fetchedDocument } from "../map/fetching.ts";
import { onThemeChange, paletteOf } from "../map/palette.ts";
import { patchFeature, patchLayer, type PatchesDocument } from "../map/patches.ts";
import { MapStyles } from "../map/styles.ts";
import type { Done } from "../map/tools.ts";
import { MapView } from "../map/view.ts";

export class DrawPatch extends HTMLElement {
  #view: MapView | undefined;
  #editing: Editing | undefined;
  #stop: (() => void)[] = [];
  #areas: Readonly<Record<string, string>> = {};
  readonly #layers = { kept: patchLayer(18), drawn: patchLayer(19) };

  connectedCallback(): void {
    this.#open().catch((problem: Error) => this.#say(problem.message));
  }

  disconnectedCallback(): void {
    this.removeEventListener("click", this.#pressed);
    for (const stop of this.#stop.splice(0)) stop();
    this.#view?.close();
  }

  async #open(): Promise<void> {
    const [ground, patches] = await Promise.all([
      fetchedDocument<GroundDocument>(this.getAttribute("ground") ?? ""),
      fetchedDocument<PatchesDocument>(this.getAttribute("patches") ?? ""),
    ]);
    if (!this.isConnected) return;
    const frame = this.querySelector<HTMLElement>(".map-frame") ?? this;
    frame.replaceChildren();
    this.#view = new MapView(frame, ground, this.getAttribute("units") === "us" ? "us" : "metric");
    this.#view.withPipes(false);
    this.#areas = Object.fromEntries(ground.areas.map((area) => [area.id, `turf-${area.kind}`]));
    for (const layer of Object.values(this.#layers)) this.#view.add(layer);
    this.#layers.kept.getSource()?.addFeatures(patches.patches.map(patchFeature));
    this.#editing = new Editing(this.#view, () => undefined);
    this.#restyle();
    this.#stop.push(onThemeChange(() => this.#restyle()));
    this.addEventListener("click", this.#pressed);
    this.querySelector<HTMLElement>(".map-deeds")?.removeAttribute("hidden");
    this.setAttribute("ready", "");
  }

  #restyle(): void {
    const styles = new MapStyles(paletteOf(this), { areas: this.#areas, stations: {} });
    this.#view?.restyle(styles);
    this.#editing?.restyle(styles);
    this.#layers.kept.setStyle(styles.patch());
    this.#layers.drawn.setStyle(styles.sketch());
  }

  readonly #pressed = (event: Event): void => {
    const deed = (event.target as Element).closest<HTMLElement>("[data-deed]")?.dataset["deed"];
    if (deed === "draw") this.#draw();
    if (deed === "back") this.#editing?.takeLastPointBack();
    if (deed === "finish") this.#editing?.finish();
    if (deed === "clear") this.#keep(null);
  };

  #draw(): void {
    this.#editing?.use("draw-area", [], (done) => this.#did(done));
    this.#say("Click the corners of the patch; a double click or Finish ends it.");
  }

  #did(done: Done): void {
    if (done.is !== "drawn") return;
    this.#keep((done.geometry.coordinates as Ring[])[0] ?? null);
    // The map library is still at the event that ended the drawing.
    setTimeout(() => this.#editing?.use("select", [], () => undefined));
  }

  #keep(ring: Ring | null): void {
    this.#editing?.answered();
    this.#layers.drawn.getSource()?.clear();
    if (ring) this.#layers.drawn.getSource()?.addFeature(patchFeature({ polygons: [[ring]] }));
    const field = document.getElementById(this.getAttribute("field") ?? "") as HTMLInputElement | null;
    if (field) field.value = ring ? outlineText(ring) : "";
    const kind = field?.form?.elements.namedItem("what") as HTMLSelectElement | null;
    if (kind && ring) kind.value = "map";
    this.#say(ring ? `A patch of ${ring.length - 1} corners. Say below what it should get, and why.` : "Nothing is drawn.");
  }

  #say(text: string): void {
    const note = this.querySelector(".map-note");
    if (note) note.textContent = text;
  }
}
