// A read-only map of the course in its own metres. Attributes: ground, values (addresses of
// documents), images (address of the list of pictures), pictures (ids to show), opacity, show (what to colour by), focus (a subject), units, pipes, stations-first, sum
// (address of a fragment that explains what was chosen). Tells `subject-chosen`.
import { NOTHING_SHOWN, relabelled, type GroundDocument, type PicturesDocument, type ValuesDocument } from "../map/documents.ts";
import { fetchedDocument, fetchedFragment } from "../map/fetching.ts";
import { onThemeChange, paletteOf } from "../map/palette.ts";
import { MapStyles } from "../map/styles.ts";
import { MapView } from "../map/view.ts";

export class CourseMap extends HTMLElement {
  static readonly observedAttributes = ["show", "focus", "pipes", "pictures", "opacity"];
  #view: MapView | undefined;
  #values: ValuesDocument | undefined;
  #pictures: PicturesDocument = { images: [] };
  #stop: (() => void)[] = [];

  connectedCallback(): void {
    document.addEventListener("click", this.#wanted);
    this.#stop.push(onThemeChange(() => this.#restyle()));
    this.#load().catch((problem: Error) => this.#say(problem.message));
  }

  disconnectedCallback(): void {
    document.removeEventListener("click", this.#wanted);
    for (const stop of this.#stop.splice(0)) stop();
    this.#view?.close();
    this.#view = undefined;
  }

  attributeChangedCallback(name: string, _before: string | null, value: string | null): void {
    if (name === "show") this.#restyle();
    if (name === "pipes") this.#view?.withPipes(value !== null);
    if (name === "pictures" || name === "opacity") this.#showPictures();
    if (name === "focus" && value) this.#view?.choose(value);
  }

  async #load(): Promise<void> {
    const [values, images] = [this.getAttribute("values"), this.getAttribute("images")];
    const [ground, shown, pictures] = await Promise.all([
      fetchedDocument<GroundDocument>(this.getAttribute("ground") ?? ""),
      values ? fetchedDocument<ValuesDocument>(values) : undefined,
      images ? fetchedDocument<PicturesDocument>(images) : this.#pictures,
    ]);
    if (!this.isConnected) return;
    this.#values = shown;
    this.#pictures = pictures;
    const frame = this.querySelector<HTMLElement>(".map-frame") ?? this;
    frame.replaceChildren();
    this.#view = new MapView(frame, relabelled(ground, shown?.labels ?? {}), this.getAttribute("units") === "us" ? "us" : "metric");
    this.#view.withPipes(this.hasAttribute("pipes"));
    this.#view.onPoint("pointermove", (subject, station) => this.#say(this.#text(subject, station)));
    this.#view.onPoint("singleclick", (subject, station) => this.#chose(subject, station));
    this.#restyle();
    this.#showPictures();
    const focus = this.getAttribute("focus");
    if (focus) this.#view.choose(focus);
    this.setAttribute("ready", "");
  }

  #restyle(): void {
    const shown = this.#values?.shown[this.getAttribute("show") ?? ""] ?? NOTHING_SHOWN;
    this.#view?.restyle(new MapStyles(paletteOf(this), shown));
  }

  #showPictures(): void {
    const wanted = (this.getAttribute("pictures") ?? "").split(" ");
    this.#view?.showPictures(this.#pictures.images, wanted, Number(this.getAttribute("opacity") ?? 1));
  }

  #text(subject: string | null, station: string | null): string {
    const texts = this.#values?.texts ?? {};
    return (station && texts[`stations:${station}`]) || (subject && (texts[subject] ?? subject)) || "";
  }

  #chose(subject: string | null, station: string | null): void {
    this.#say(this.#text(subject, station));
    const chosen = station && this.hasAttribute("stations-first") ? `stations:${station}` : subject;
    if (!chosen) return;
    this.#view?.choose(chosen);
    this.#explain(chosen).catch((problem: Error) => this.#say(problem.message));
    this.dispatchEvent(new CustomEvent("subject-chosen", { bubbles: true, detail: { subject: chosen } }));
  }

  async #explain(subject: string): Promise<void> {
    const [address, place] = [this.getAttribute("sum"), this.querySelector(".map-sum")];
    if (address && place) place.innerHTML = await fetchedFragment(address, subject);
  }

  readonly #wanted = (event: Event): void => {
    const link = (event.target as Element).closest?.("[data-show-on-map]");
    const subject = link?.getAttribute("data-show-on-map");
    if (!subject || !this.#view?.choose(subject) || link?.hasAttribute("data-stay")) return;
    event.preventDefault();
    this.scrollIntoView({ block: "nearest" });
  };

  #say(text: string): void {
    const note = this.querySelector(".map-note");
    if (note && text) note.textContent = text;
  }
}
