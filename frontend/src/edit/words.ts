// What an operation is called where a person reads it.
import type { Operation } from "./operations.ts";

const M_PER_FT = 0.3048;

/** A length for people, in their unit. */
export function lengthWords(length_m: number, units: string): string {
  return units === "us" ? `${(length_m / M_PER_FT).toFixed(1)} ft` : `${length_m.toFixed(1)} m`;
}

/** Metres, from a length as a person wrote it in their unit. */
export const metresOf = (length: number, units: string): number => (units === "us" ? length * M_PER_FT : length);

/** A length in a person's unit, from metres. */
export const inUnits = (length_m: number, units: string): number => (units === "us" ? length_m / M_PER_FT : length_m);

/** "1 head", "3 heads". */
export const counted = (count: number, table: string): string => `${count} ${count === 1 ? table.replace(/s$/, "") : table}`;

const renumberedWords = (heads: readonly string[], stations: readonly string[]): string =>
  [heads.length ? counted(heads.length, "heads") : "", stations.length ? counted(stations.length, "stations") : ""].filter(Boolean).join(", ");

/** An operation in a few words, such as "Move 3 heads by 2.1 m". */
export function operationWords(operation: Operation, units: string): string {
  const rows = "ids" in operation ? counted(operation.ids.length, "table" in operation ? operation.table : "heads") : "";
  switch (operation.op) {
    case "add": return `Draw ${counted(1, operation.table)}`;
    case "set": return `Set ${Object.keys(operation.values).join(", ")} of ${rows}`;
    case "move": return `Move ${rows} by ${lengthWords(Math.hypot(operation.dx_m, operation.dy_m), units)}`;
    case "reshape": return `Reshape ${operation.id}`;
    case "remove": return `Delete ${rows}`;
    case "split": return `Split ${operation.id}`;
    case "merge": return `Merge ${rows}`;
    case "copy_arc": return `Copy the arc of ${operation.from} to ${rows}`;
    case "turn": return `Turn ${rows} to ${Math.round(operation.bearing_deg)}°`;
    case "assign": return operation.station === null ? `Take ${rows} off their station` : `Assign ${rows} to ${operation.station}`;
    case "renumber": return `Renumber hole ${operation.hole}: ${renumberedWords(operation.heads ?? [], operation.stations ?? [])}`;
    case "place_along": return `Place heads every ${lengthWords(operation.spacing_m, units)}`;
  }
}
