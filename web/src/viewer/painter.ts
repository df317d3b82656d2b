// Draws an image and, over it, one of its layers: a change of tone costs one redraw and no request.
import type { PictureFacts } from '../api/services';
import type { Layer } from '../api/call';
import { scaleOf, toGrid, type Placement } from './placement';
import { Shader } from './shader';
import { Tiles } from './tiles';
import type { Tone } from './tone';
import { levelFor, tilesInSight, type Size, type TilePlace, type View } from './view';

const kMostImages = 12;

export interface Drawn {
  path: string;
  layer: Layer;
  facts: PictureFacts;
  placement: Placement;
}

export interface Scene {
  image: Drawn;
  shade: Drawn | null;
  strength: number; // of the shade, 0..1
  view: View;
  screen: Size;
  ratio: number;
  tone: Tone;
  red: boolean;
}

export class Painter {
  private readonly gl: WebGL2RenderingContext;
  private readonly shader: Shader;
  private readonly images = new Map<string, Tiles>(); // the last used at the end
  private before: Drawn | null = null; // what was on the screen until the next image has something to show

  constructor(
    private readonly canvas: HTMLCanvasElement,
    private readonly news: () => void,
    private readonly failed: (error: unknown) => void,
  ) {
    const gl = canvas.getContext('webgl2', { alpha: false, antialias: false });
    if (!gl) throw new Error('this browser has no WebGL 2');
    this.gl = gl;
    this.shader = new Shader(gl);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
  }

  draw(scene: Scene): void {
    const gl = this.gl;
    const { view, screen, ratio, red } = scene;
    const width = Math.max(1, Math.round(screen.width * ratio));
    const height = Math.max(1, Math.round(screen.height * ratio));
    if (this.canvas.width !== width || this.canvas.height !== height) {
      this.canvas.width = width;
      this.canvas.height = height;
    }
    gl.viewport(0, 0, width, height);
    gl.clearColor(red ? 0 : 0.02, red ? 0 : 0.027, red ? 0 : 0.047, 1);
    gl.clear(gl.COLOR_BUFFER_BIT);
    gl.uniform4f(this.shader.at('view'), view.x, view.y, (2 * view.scale) / screen.width, (-2 * view.scale) / screen.height);
    gl.uniform1i(this.shader.at('red'), red ? 1 : 0);

    const tiles = this.tilesOf(scene.image);
    const old = this.before && !tiles.ready ? this.before : null;
    if (old) this.paint(old, this.tilesOf(old), scene);
    this.paint(scene.image, tiles, scene);
    if (tiles.ready) this.before = scene.image;
    if (!scene.shade) return;
    gl.enable(gl.BLEND);
    this.paint(scene.shade, this.tilesOf(scene.shade), scene);
    gl.disable(gl.BLEND);
  }

  destroy(): void {
    for (const tiles of this.images.values()) tiles.destroy();
    this.gl.getExtension('WEBGL_lose_context')?.loseContext();
  }

  private tilesOf(drawn: Drawn): Tiles {
    const name = `${drawn.layer} ${drawn.path}`;
    let tiles = this.images.get(name);
    if (tiles && tiles.facts !== drawn.facts) {
      tiles.destroy();
      tiles = undefined;
    }
    tiles ??= new Tiles(this.gl, drawn.path, drawn.layer, drawn.facts, this.news, this.failed);
    this.images.delete(name);
    this.images.set(name, tiles);
    for (const [other, old] of this.images) {
      if (this.images.size <= kMostImages) break;
      old.destroy();
      this.images.delete(other);
    }
    return tiles;
  }

  private paint(drawn: Drawn, tiles: Tiles, scene: Scene): void {
    const { facts: f, placement: p } = drawn;
    const { view, screen, ratio } = scene;
    this.describe(drawn, scene);
    const level = levelFor(view.scale * scaleOf(p) * ratio, f.levels);
    const sight = tilesInSight(view, p, f, screen, level, f.tile_px);
    // The coarsest tile lies below all: nothing is ever blank for long. Of a shade it would be seen twice.
    const below = drawn.layer === 'value' || !sight.every((t) => tiles.take(t)) ? [tiles.coarsest] : [];
    const shown = drawn.layer === 'value' || below.length === 0 ? [...below, ...sight] : below;
    for (const tile of shown) this.paintTile(tile, tiles, f);
    const far = (t: TilePlace): number => {
      const side = f.tile_px * 2 ** t.level;
      const middle = toGrid(p, { x: (t.column + 0.5) * side, y: (t.row + 0.5) * side });
      return Math.hypot(middle.x - view.x, middle.y - view.y);
    };
    tiles.want([tiles.coarsest, ...sight.sort((a, b) => far(a) - far(b))]);
  }

  private describe({ facts: f, placement: p, layer }: Drawn, { tone, strength }: Scene): void {
    const gl = this.gl;
    const of = (values: number[], otherwise: number): [number, number, number] => [
      values[0] ?? otherwise,
      values[1] ?? values[0] ?? otherwise,
      values[2] ?? values[0] ?? otherwise,
    ];
    gl.uniform3f(this.shader.at('gridX'), p.a, p.b, p.c);
    gl.uniform3f(this.shader.at('gridY'), p.d, p.e, p.f);
    gl.uniform1i(this.shader.at('kind'), layer !== 'value' ? 2 : f.unit === 'display' ? 1 : 0);
    gl.uniform1i(this.shader.at('colour'), f.planes === 3 && layer === 'value' ? 1 : 0);
    gl.uniform3f(this.shader.at('sky'), ...of(f.sky, 0));
    gl.uniform3f(this.shader.at('noise'), ...of(f.noise, 1));
    const low = layer === 'value' ? Math.sinh(tone.black) : (f.low[0] ?? 0);
    const high = layer === 'value' ? Math.max(low + 1e-3, Math.sinh(tone.white)) : Math.max(low * (1 + 1e-6) + 1e-9, f.high[0] ?? 1);
    gl.uniform1f(this.shader.at('low'), low);
    gl.uniform1f(this.shader.at('high'), high);
    gl.uniform1f(this.shader.at('factor'), 10 ** tone.stretch);
    gl.uniform1f(this.shader.at('saturation'), tone.saturation);
    gl.uniform1f(this.shader.at('white'), f.display_white || 1);
    gl.uniform1f(this.shader.at('strength'), strength);
  }

  private paintTile(tile: TilePlace, tiles: Tiles, f: PictureFacts): void {
    const textures = tiles.take(tile);
    if (!textures) return;
    const gl = this.gl;
    const pixel = 2 ** tile.level;
    const side = f.tile_px * pixel;
    // The last tiles of a row and column end with the image, or half a coarse pixel beyond.
    const right = Math.min((tile.column + 1) * side, Math.ceil(f.width / pixel) * pixel);
    const bottom = Math.min((tile.row + 1) * side, Math.ceil(f.height / pixel) * pixel);
    gl.uniform4f(this.shader.at('rect'), tile.column * side, tile.row * side, right, bottom);
    textures.forEach((texture, unit) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, texture);
    });
    gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
  }
}
