/** The prop as it shines: its outline or photo, and a lamp at each LED's place. Glow and overlap are approximate. */

import { FlashGuard } from './flash_guard.js';
import { DISC_REACH, REACH, codes, disc, encoded, glow } from './glow.js';
import { outline } from './ground.js';
import { newSeen } from './seen.js';

const LEAST_RADIUS_PX = 2;
const SPRITE_RADIUS_PX = 24;
const MARGIN = 0.02;
/** A picture that is so much wider than high gets more room across (style.css). */
const LYING = 1.25;

/** What draws on a canvas. @param {any} canvas @param {any} [options] @returns {any} */
const penOf = (canvas, options) => canvas.getContext('2d', options);

/** Light that falls off from the middle, worked out once for each colour. glow: of a distance in radii. */
function light(rgb, reach, glow) {
  const size = Math.ceil(2 * SPRITE_RADIUS_PX * reach);
  const canvas = new OffscreenCanvas(size, size);
  const pen = penOf(canvas);
  const image = pen.createImageData(size, size);
  const [red, green, blue] = codes(rgb);
  for (let at = 0; at < size * size; at++) {
    const across = at % size + 0.5 - size / 2, down = Math.floor(at / size) + 0.5 - size / 2;
    image.data.set([red, green, blue, Math.round(255 * encoded(glow(Math.hypot(across, down) / SPRITE_RADIUS_PX)))], 4 * at);
  }
  pen.putImageData(image, 0, 0);
  return canvas;
}

/** It as large as on the screen, around a corner of pixels: what is laid on as it is takes much less time than what is scaled for each picture. */
function sprite(light, reach_px) {
  const half_px = Math.ceil(reach_px), canvas = new OffscreenCanvas(2 * half_px, 2 * half_px);
  const pen = penOf(canvas);
  pen.imageSmoothingQuality = 'high';
  pen.drawImage(light, half_px - reach_px, half_px - reach_px, 2 * reach_px, 2 * reach_px);
  return canvas.transferToImageBitmap();
}

export class Picture {
  /** canvas: where it is drawn. onGentle(is) hears when the flash guard begins and ends to hold back. */
  constructor(canvas, onGentle) {
    this.canvas = canvas;
    this.pen = penOf(canvas, { alpha: false });
    this.scale = 1;
    this.onGentle = onGentle;
    this.lights = new Map();
    this.sprites = new Map();
    this.guardOn = true;
    this.isGentle = false;
    this.still = matchMedia('(prefers-reduced-motion: reduce)');
    this.still.addEventListener('change', () => this.prop && this.show(this.prop));
    new ResizeObserver(() => this.prop && this.show(this.prop)).observe(canvas.parentElement);
  }

  /** Lays out a prop. */
  show(prop, photo = this.photo) {
    this.prop = prop;
    this.photo = photo;
    const { width_mm, height_mm } = prop.picture;
    this.canvas.parentElement.style.setProperty('--shape', width_mm / height_mm);
    document.body.classList.toggle('lying', width_mm > LYING * height_mm);
    const box = this.canvas.parentElement.getBoundingClientRect();
    const ratio = window.devicePixelRatio || 1;
    const width_px = Math.min(box.width, box.height * width_mm / height_mm) * (1 - MARGIN);
    this.scale = width_px / width_mm * ratio;
    this.canvas.width = Math.max(Math.round(width_mm * this.scale), 1);
    this.canvas.height = Math.max(Math.round(height_mm * this.scale), 1);
    this.canvas.style.width = `${this.canvas.width / ratio}px`;
    this.canvas.style.height = `${this.canvas.height / ratio}px`;
    this.sprites.clear();
    this.lamps = prop.lamps.map((lamp) => this.lamp(lamp));
    const ground = this.ground(), seen = penOf(ground).getImageData(0, 0, ground.width, ground.height);
    this.unlit = ground.transferToImageBitmap();
    this.guard = new FlashGuard(newSeen(this.lamps, seen, ratio), this.still.matches, this.guard);
    this.drawn = '';
    this.light(this.shares || [], performance.now() / 1000);
  }

  lamp(lamp) {
    const radius_px = Math.max(lamp.size_mm / 2 * this.scale, LEAST_RADIUS_PX);
    const [x_px, y_px] = [lamp.x_mm, lamp.y_mm].map((way_mm) => Math.round(way_mm * this.scale));
    return { ...lamp, x_px, y_px, radius_px, sprites: this.spritesOf(lamp.rgb, radius_px) };
  }

  /** Of lamps of one colour and size. */
  spritesOf(rgb, radius_px) {
    const colour = rgb.join(), kind = `${colour} ${radius_px}`;
    if (!this.lights.has(colour)) this.lights.set(colour, { glow: light(rgb, REACH, glow), disc: light(rgb, DISC_REACH, disc) });
    const lights = this.lights.get(colour);
    if (!this.sprites.has(kind)) this.sprites.set(kind, { glow: sprite(lights.glow, radius_px * REACH), disc: sprite(lights.disc, radius_px * DISC_REACH) });
    return this.sprites.get(kind);
  }

  /** The picture without light: drawn once. */
  ground() {
    const canvas = new OffscreenCanvas(this.canvas.width, this.canvas.height);
    const pen = penOf(canvas, { alpha: false });
    pen.fillStyle = '#07090c';
    pen.fillRect(0, 0, canvas.width, canvas.height);
    if (this.photo) {
      pen.globalAlpha = 0.4;
      pen.drawImage(this.photo, 0, 0, canvas.width, canvas.height);
      pen.globalAlpha = 1;
    } else {
      outline(pen, this.prop.picture.outline_mm.map((corner) => corner.map((way) => way * this.scale)), this.scale);
    }
    for (const { x_px, y_px, radius_px, rgb } of this.lamps) {
      pen.beginPath();
      pen.arc(x_px, y_px, radius_px, 0, 2 * Math.PI);
      pen.fillStyle = `rgb(${codes(rgb.map((value) => (value + 0.1) * 0.05)).join()})`;
      pen.fill();
    }
    return canvas;
  }

  setGuard(isOn) {
    this.guardOn = isOn;
  }

  /** Draws the lamps at these shares of full duty, by channel. */
  light(shares, now_s) {
    this.shares = shares;
    const asked = Float32Array.from(this.lamps, (lamp) => shares[lamp.channel] || 0);
    const shown = this.held(asked, now_s);
    const codes = Uint8Array.from(shown, (share) => Math.round(255 * encoded(share)));
    const drawn = codes.join();
    if (drawn === this.drawn) return;
    this.drawn = drawn;
    this.pen.globalCompositeOperation = 'source-over';
    this.pen.globalAlpha = 1;
    this.pen.drawImage(this.unlit, 0, 0);
    // Glows add up. A disc is the lamp itself: glows on top of it would turn amber into yellow.
    this.shine('lighter', 'glow', codes);
    this.shine('lighten', 'disc', codes);
  }

  shine(operation, part, codes) {
    this.pen.globalCompositeOperation = operation;
    this.lamps.forEach(({ sprites, x_px, y_px }, at) => {
      if (codes[at] === 0) return;
      this.pen.globalAlpha = codes[at] / 255;
      this.pen.drawImage(sprites[part], x_px - sprites[part].width / 2, y_px - sprites[part].height / 2);
    });
  }

  held(asked, now_s) {
    const shown = this.guard.show(asked, now_s, this.guardOn);
    if (this.guard.isGentle !== this.isGentle) this.onGentle(this.isGentle = this.guard.isGentle);
    return shown;
  }
}
