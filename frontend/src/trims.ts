// Loaded on the page of trims: its map shows drawn patches and takes a new one.
import { DrawPatch } from "./elements/draw_patch.ts";

customElements.define("draw-patch", DrawPatch);
