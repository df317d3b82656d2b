// Where the grid lies on the screen: pan, zoom, and which tiles of an image are in sight.
import { around, corners, toImage, type Area, type Placement } from './placement';

export interface View {
  scale: number; // screen pixels of a grid pixel
  x: number; // place of the grid at the middle of the screen
  y: number;
}
export interface Size {
  width: number;
  height: number;
}

export function whole(area: Area, screen: Size): View {
  return {
    scale: Math.min(screen.width / area.width, screen.height / area.height),
    x: area.x + area.width / 2,
    y: area.y + area.height / 2,
  };
}

// No further in than 32 screen pixels a pixel, no further out than half of the screen.
export function bounded(view: View, area: Area, screen: Size): View {
  const least = whole(area, screen).scale / 2;
  return {
    scale: Math.min(32, Math.max(Math.min(least, 1), view.scale)),
    x: Math.min(area.x + area.width, Math.max(area.x, view.x)),
    y: Math.min(area.y + area.height, Math.max(area.y, view.y)),
  };
}

export const gridPlace = (view: View, screen: Size, sx: number, sy: number): { x: number; y: number } => ({
  x: view.x + (sx - screen.width / 2) / view.scale,
  y: view.y + (sy - screen.height / 2) / view.scale,
});

// The same place stays under the pointer.
export function zoomedAt(view: View, screen: Size, sx: number, sy: number, factor: number): View {
  const at = gridPlace(view, screen, sx, sy);
  const scale = view.scale * factor;
  return { scale, x: at.x - (sx - screen.width / 2) / scale, y: at.y - (sy - screen.height / 2) / scale };
}

// The level whose pixels are the largest that are no larger than those of the screen.
export function levelFor(scale: number, levels: number): number {
  return Math.min(levels - 1, Math.max(0, Math.floor(-Math.log2(scale) + 1e-9)));
}

export interface TilePlace {
  level: number;
  column: number;
  row: number;
}

export function tilesInSight(view: View, placement: Placement, image: Size, screen: Size, level: number, tilePx: number): TilePlace[] {
  const side = tilePx * 2 ** level;
  const first = gridPlace(view, screen, 0, 0);
  const seen = { x: first.x, y: first.y, width: screen.width / view.scale, height: screen.height / view.scale };
  return tilesWithin(around(corners(seen).map((p) => toImage(placement, p))), image, side, level);
}

function tilesWithin(seen: Area, image: Size, side: number, level: number): TilePlace[] {
  const first = { x: seen.x, y: seen.y };
  const last = { x: seen.x + seen.width, y: seen.y + seen.height };
  const clamp = (v: number, most: number): number => Math.min(most, Math.max(0, v));
  const columns = Math.ceil(image.width / side) - 1;
  const rows = Math.ceil(image.height / side) - 1;
  const tiles: TilePlace[] = [];
  if (first.x >= image.width || first.y >= image.height || last.x <= 0 || last.y <= 0) return tiles;
  for (let row = clamp(Math.floor(first.y / side), rows); row <= clamp(Math.floor(last.y / side), rows); ++row)
    for (let column = clamp(Math.floor(first.x / side), columns); column <= clamp(Math.floor(last.x / side), columns); ++column)
      tiles.push({ level, column, row });
  return tiles;
}
