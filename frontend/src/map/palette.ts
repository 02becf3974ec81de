// Colours come from the page's style sheet, so that map and legend cannot disagree.

export type Palette = (name: string) => string;

/** Reads `--map-NAME` of an element; an unknown name is the colour of what is missing. */
export function paletteOf(element: Element): Palette {
  const style = getComputedStyle(element);
  const known = new Map<string, string>();
  return (name) => {
    let colour = known.get(name);
    if (colour === undefined) {
      colour = style.getPropertyValue(`--map-${name}`).trim() || style.getPropertyValue("--map-missing").trim();
      known.set(name, colour);
    }
    return colour;
  };
}

/** The same colour, let through by a share; only for `#rrggbb`. */
export function lighter(colour: string, alpha: number): string {
  const share = Math.round(Math.min(1, Math.max(0, alpha)) * 255);
  return `${colour}${share.toString(16).padStart(2, "0")}`;
}

/** Calls back when the device changes between light and dark; gives the way to stop. */
export function onThemeChange(changed: () => void): () => void {
  const dark = matchMedia("(prefers-color-scheme: dark)");
  dark.addEventListener("change", changed);
  return () => dark.removeEventListener("change", changed);
}
