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

/** Light that falls off from the middle, drawn once for each colour. glow: of a distance in radii. */
function sprite(rgb, reach, glow) {
  const size = Math.ceil(2 * SPRITE_RADIUS_PX * reach);
  const canvas = new OffscreenCanvas(size, size);
  const pen = canvas.getContext('2d');
  const image = pen.createImageData(size, size);
  const [red, green, blue] = codes(rgb);
  for (let at = 0; at < size * size; at++) {
    const across = at % size + 0.5 - size / 2, down = Math.floor(at / size) + 0.5 - size / 2;
    image.data.set([red, green, blue, Math.round(255 * encoded(glow(Math.hypot(across, down) / SPRITE_RADIUS_PX)))], 4 * at);
  }
  pen.putImageData(image, 0, 0);
  return canvas;
}

export class Picture {
  /** canvas: where it is drawn. onGentle(is) hears when the flash guard begins and ends to hold back. */
  constructor(canvas, onGentle) {
    this.canvas = canvas;
    this.pen = canvas.getContext('2d', { alpha: false });
    this.onGentle = onGentle;
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
    this.lamps = prop.lamps.map((lamp) => this.lamp(lamp));
    this.unlit = this.ground();
    const ground = this.unlit.getContext('2d').getImageData(0, 0, this.unlit.width, this.unlit.height);
    this.guard = new FlashGuard(newSeen(this.lamps, ground, ratio), this.still.matches, this.guard);
    this.drawn = '';
    this.light(this.shares || [], performance.now() / 1000);
  }

  lamp(lamp) {
    const radius_px = Math.max(lamp.size_mm / 2 * this.scale, LEAST_RADIUS_PX);
    const colour = lamp.rgb.join();
    if (!this.sprites.has(colour)) this.sprites.set(colour, { glow: sprite(lamp.rgb, REACH, glow), disc: sprite(lamp.rgb, DISC_REACH, disc) });
    return { ...lamp, x_px: lamp.x_mm * this.scale, y_px: lamp.y_mm * this.scale, radius_px, sprites: this.sprites.get(colour) };
  }

  /** The picture without light: drawn once. */
  ground() {
    const canvas = new OffscreenCanvas(this.canvas.width, this.canvas.height);
    const pen = canvas.getContext('2d', { alpha: false });
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
    this.pen.globalCompositeOperation = 'copy';
    this.pen.globalAlpha = 1;
    this.pen.drawImage(this.unlit, 0, 0);
    // Glows add up. A disc is the lamp itself: glows on top of it would turn amber into yellow.
    this.shine('lighter', 'glow', REACH, codes);
    this.shine('lighten', 'disc', DISC_REACH, codes);
  }

  shine(operation, part, reach, codes) {
    this.pen.globalCompositeOperation = operation;
    this.lamps.forEach(({ sprites, x_px, y_px, radius_px }, at) => {
      if (codes[at] === 0) return;
      const reach_px = radius_px * reach;
      this.pen.globalAlpha = codes[at] / 255;
      this.pen.drawImage(sprites[part], x_px - reach_px, y_px - reach_px, 2 * reach_px, 2 * reach_px);
    });
  }

  held(asked, now_s) {
    const shown = this.guard.show(asked, now_s, this.guardOn);
    if (this.guard.isGentle !== this.isGentle) this.onGentle(this.isGentle = this.guard.isGentle);
    return shown;
  }
}
