// Where an image lies on the screen: pan, zoom, and which tiles are in sight.
export interface View {
  scale: number; // screen pixels of an image pixel
  x: number; // image place at the middle of the screen
  y: number;
}
export interface Size {
  width: number;
  height: number;
}

export function whole(image: Size, screen: Size): View {
  return {
    scale: Math.min(screen.width / image.width, screen.height / image.height),
    x: image.width / 2,
    y: image.height / 2,
  };
}

// No further in than 32 screen pixels a pixel, no further out than half of the screen.
export function bounded(view: View, image: Size, screen: Size): View {
  const least = whole(image, screen).scale / 2;
  return {
    scale: Math.min(32, Math.max(Math.min(least, 1), view.scale)),
    x: Math.min(image.width, Math.max(0, view.x)),
    y: Math.min(image.height, Math.max(0, view.y)),
  };
}

export const imagePlace = (view: View, screen: Size, sx: number, sy: number): { x: number; y: number } => ({
  x: view.x + (sx - screen.width / 2) / view.scale,
  y: view.y + (sy - screen.height / 2) / view.scale,
});

// The same image place stays under the pointer.
export function zoomedAt(view: View, screen: Size, sx: number, sy: number, factor: number): View {
  const at = imagePlace(view, screen, sx, sy);
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

export function tilesInSight(view: View, image: Size, screen: Size, level: number, tilePx: number): TilePlace[] {
  const side = tilePx * 2 ** level;
  const first = imagePlace(view, screen, 0, 0);
  const last = imagePlace(view, screen, screen.width, screen.height);
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
