// Frames of the film of a night.

export const FRAME_MS = 250;

/** What the server sends of one frame; texts carry their unit. */
export interface Figures {
  readonly name: string;
  readonly clock: string;
  readonly flow: string;
  readonly share: number;
  readonly heads: number;
  readonly stations: number;
  readonly volume: string;
  readonly depth: string;
  readonly pressure: string;
  readonly lowest: string;
  readonly short: string;
}

/** The frame after one, and the first after the last. */
export function nextFrame(at: number, count: number): number {
  return count > 0 ? (at + 1) % count : 0;
}
