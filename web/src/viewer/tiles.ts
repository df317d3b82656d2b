// The tiles of one layer of one image, as textures: fetched when wanted, the least used forgotten.
import type { PictureFacts } from '../api/services';
import { pictureTile, type Layer } from '../api/call';
import type { TilePlace } from './view';

const kMostTiles = 200;
const kAtOnce = 6;

interface Held {
  textures: WebGLTexture[];
  used: number;
}

const key = (t: TilePlace): string => `${t.level}/${t.column}/${t.row}`;

export class Tiles {
  private readonly held = new Map<string, Held>();
  private readonly loading = new Set<string>();
  private wanted: TilePlace[] = [];
  private turn = 0;
  private gone = false;

  constructor(
    private readonly gl: WebGL2RenderingContext,
    private readonly path: string,
    private readonly layer: Layer,
    readonly facts: PictureFacts,
    private readonly news: () => void, // a tile has come: draw again
    private readonly failed: (error: unknown) => void,
  ) {}

  get coarsest(): TilePlace {
    return { level: this.facts.levels - 1, column: 0, row: 0 };
  }
  get ready(): boolean {
    return this.held.has(key(this.coarsest));
  }

  take(tile: TilePlace): WebGLTexture[] | null {
    const held = this.held.get(key(tile));
    if (!held) return null;
    held.used = this.turn;
    return held.textures;
  }

  // In this order, of those that are not here.
  want(tiles: TilePlace[]): void {
    ++this.turn;
    this.wanted = tiles.filter((t) => !this.held.has(key(t)));
    this.load();
  }

  destroy(): void {
    this.gone = true;
    for (const { textures } of this.held.values()) for (const texture of textures) this.gl.deleteTexture(texture);
    this.held.clear();
  }

  private load(): void {
    while (this.loading.size < kAtOnce) {
      const next = this.wanted.shift();
      if (!next) return;
      const name = key(next);
      if (this.loading.has(name) || this.held.has(name)) continue;
      this.loading.add(name);
      const planes = Array.from({ length: this.facts.planes }, (_, p) => pictureTile(this.path, this.layer, next.level, next.column, next.row, p));
      Promise.all(planes)
        .then((tiles) => {
          if (this.gone) return;
          this.held.set(name, { textures: tiles.map((t) => this.texture(t.width, t.height, t.values)), used: this.turn });
          this.forget();
          this.news();
        })
        .catch((error: unknown) => {
          if (!this.gone) this.failed(error);
        })
        .finally(() => {
          this.loading.delete(name);
          if (!this.gone) this.load();
        });
    }
  }

  private texture(width: number, height: number, values: Float32Array): WebGLTexture {
    const gl = this.gl;
    const texture = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 4);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, width, height, 0, gl.RED, gl.FLOAT, values);
    for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, name, gl.NEAREST);
    for (const name of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, name, gl.CLAMP_TO_EDGE);
    return texture;
  }

  private forget(): void {
    if (this.held.size <= kMostTiles) return;
    const oldest = [...this.held].sort((a, b) => a[1].used - b[1].used).slice(0, this.held.size - kMostTiles);
    for (const [name, held] of oldest) {
      for (const texture of held.textures) this.gl.deleteTexture(texture);
      this.held.delete(name);
    }
  }
}
