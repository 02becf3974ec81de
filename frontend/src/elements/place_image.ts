// Control points are picked on the picture and on the map in turn; the server fits them and
// answers with the table. Attributes: address (of the page), points, ground, units, picture
// (address of its tiles), width, height, levels, tile. Without script the numbers are typed.
import { withParameter } from "../addresses.ts";
import type { GroundDocument, Place } from "../map/documents.ts";
import { fetchedDocument } from "../map/fetching.ts";
import { nextStep, pairsFrom, pairsText, withPixel, withPlace, type Picked } from "../map/pairs.ts";
import { onThemeChange, paletteOf } from "../map/palette.ts";
import { marksLayer } from "../map/pictures.ts";
import { NOTHING_SHOWN } from "../map/documents.ts";
import { MapStyles } from "../map/styles.ts";
import { MapView, PictureView } from "../map/view.ts";

const upright = ([column, row]: Place): Place => [column, -row];

export class PlaceImage extends HTMLElement {
  #picked: Picked = { pairs: [], pixel: null, place: null };
  #ground: MapView | undefined;
  #picture: PictureView | undefined;
  #marks: Record<"picture" | "map", ReturnType<typeof marksLayer>> | undefined;
  #asked: AbortController | undefined;
  #stop: (() => void)[] = [];

  connectedCallback(): void {
    this.#picked = { pairs: pairsFrom(this.getAttribute("points") ?? ""), pixel: null, place: null };
    this.#stop.push(onThemeChange(() => this.#restyle()));
    this.#open().catch((problem: Error) => this.#say(problem.message));
  }

  disconnectedCallback(): void {
    for (const stop of this.#stop.splice(0)) stop();
    this.#asked?.abort();
    this.#ground?.close();
    this.#picture?.close();
  }

  #part(name: string): HTMLElement {
    return this.querySelector<HTMLElement>(`[data-part=${name}]`) ?? this;
  }

  async #open(): Promise<void> {
    const shapes = await fetchedDocument<GroundDocument>(this.getAttribute("ground") ?? "");
    if (!this.isConnected) return;
    const number = (name: string): number => Number(this.getAttribute(name));
    for (const name of ["picture", "map"]) this.#part(name).replaceChildren();
    const address = this.getAttribute("picture") ?? "";
    const [width, height, levels, tile] = [number("width"), number("height"), number("levels"), number("tile")];
    this.#picture = new PictureView(this.#part("picture"), { address, width, height, levels, tile });
    this.#ground = new MapView(this.#part("map"), shapes, this.getAttribute("units") === "us" ? "us" : "metric");
    this.#marks = { picture: marksLayer(paletteOf(this)), map: marksLayer(paletteOf(this)) };
    this.#picture.add(this.#marks.picture.layer);
    this.#ground.add(this.#marks.map.layer);
    this.#picture.onPlace((pixel) => this.#change(withPixel(this.#picked, upright(pixel))));
    this.#ground.onPlace((place) => this.#change(withPlace(this.#picked, place)));
    this.#restyle();
    this.#showMarks();
    this.setAttribute("ready", "");
  }

  #restyle(): void {
    this.#ground?.restyle(new MapStyles(paletteOf(this), NOTHING_SHOWN));
  }

  #change(picked: Picked): void {
    const before = this.#picked.pairs.length;
    this.#picked = picked;
    this.#showMarks();
    this.#say(nextStep(picked));
    if (picked.pairs.length !== before) this.#fit().catch((problem: Error) => this.#say(problem.message));
  }

  #showMarks(): void {
    const { pairs, pixel, place } = this.#picked;
    this.#marks?.picture.show([...pairs.map((pair) => pair.pixel), ...(pixel ? [pixel] : [])].map(upright));
    this.#marks?.map.show([...pairs.map((pair) => pair.place), ...(place ? [place] : [])]);
  }

  async #fit(): Promise<void> {
    this.#asked?.abort();
    this.#asked = new AbortController();
    const address = withParameter(location.href, "points", pairsText(this.#picked.pairs));
    const headers = { "HX-Request": "true", "HX-Request-Type": "partial" };
    const answer = await fetch(address, { headers, signal: this.#asked.signal });
    if (!answer.ok) throw new Error(`The points could not be fitted (${answer.status}). Load the page again.`);
    this.#part("fit").innerHTML = await answer.text();
    history.replaceState(history.state, "", address);
  }

  #say(text: string): void {
    const note = this.querySelector(".map-note");
    if (note && text) note.textContent = text;
  }
}
