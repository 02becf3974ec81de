// Arithmetic of pins: minutes and clock times. The server decides; this only previews.

/** A start within the night, so that the last cycle ends in it. */
export function clampedStart(minute: number, last: number): number {
  return Math.min(Math.max(0, Math.round(minute)), Math.max(0, last));
}

/** The clock so many minutes after another, HH:MM, around midnight. */
export function clockAfter(clock: string, minutes: number): string {
  const [hours = 0, past = 0] = clock.split(":").map(Number);
  const total = (((hours * 60 + past + minutes) % 1440) + 1440) % 1440;
  return `${String(Math.floor(total / 60)).padStart(2, "0")}:${String(total % 60).padStart(2, "0")}`;
}
