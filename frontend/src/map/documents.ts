// What the server sends for a map: the ground, and classes and texts to show on it.

export type Place = readonly [x: number, y: number];

export interface AreaShape {
  readonly id: string;
  readonly label: string;
  readonly kind: string;
  readonly polygons: readonly (readonly (readonly Place[])[])[];
}

export interface LineShape {
  readonly id: string;
  readonly label: string;
  readonly lines: readonly (readonly Place[])[];
  readonly width_mm?: number | null;
}

export interface HeadShape {
  readonly id: string;
  readonly label: string;
  /** The label that it bears now, where `label` would be a new one. */
  readonly label_now?: string;
  readonly x: number;
  readonly y: number;
  readonly throw_m: number | null;
  readonly arc_deg: number | null;
  readonly bearing_deg: number | null;
  readonly station: string | null;
}

export interface PointShape {
  readonly id: string;
  readonly table: string;
  readonly label: string;
  readonly x: number;
  readonly y: number;
}

export interface GroundDocument {
  readonly areas: readonly AreaShape[];
  readonly holes: readonly LineShape[];
  readonly pipes: readonly LineShape[];
  readonly heads: readonly HeadShape[];
  readonly points: readonly PointShape[];
}

/** A picture that lies on the map, cut into squares; `address` holds {z}, {x} and {y}. */
export interface PictureDocument {
  readonly id: string;
  readonly label: string;
  readonly extent_m: readonly [left: number, bottom: number, right: number, top: number];
  readonly origin_m: Place;
  readonly resolutions_m: readonly number[];
  readonly tile_px: number;
  readonly address: string;
}

export interface PicturesDocument {
  readonly images: readonly PictureDocument[];
}

/** Class names by id; a class is drawn in the colour of the page's `--map-CLASS`. */
export interface Shown {
  readonly areas: Readonly<Record<string, string>>;
  readonly stations: Readonly<Record<string, string>>;
}

export interface ValuesDocument {
  readonly shown: Readonly<Record<string, Shown>>;
  /** What is said of an area or station (`areas:ID`, `stations:ID`). */
  readonly texts: Readonly<Record<string, string>>;
  /** Labels that heads would bear, by id; those that stay are left out. */
  readonly labels?: Readonly<Record<string, string>>;
}

/** The ground with heads that would bear another label, each beside the one that it bears now. */
export function relabelled(ground: GroundDocument, labels: Readonly<Record<string, string>>): GroundDocument {
  const heads = ground.heads.map((head) => {
    const label = labels[head.id];
    return label === undefined || label === head.label ? head : { ...head, label, label_now: head.label };
  });
  return { ...ground, heads };
}

export const NOTHING_SHOWN: Shown = { areas: {}, stations: {} };

export const NOTHING_GROUND: GroundDocument = { areas: [], holes: [], pipes: [], heads: [], points: [] };
