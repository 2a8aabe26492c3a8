/** The prop as it shines: its outline or photo, and a lamp at each LED's place. Halo and overlap are approximate. */

import { guarded, relaid } from './flash_guard.js';

/** Height and width, in radii of the lamp, of the two halos around its disc: looks right, no physics. */
const HALOS = [[0.34, 1.7], [0.08, 3.2]];
/** In radii: where a halo and a disc have come to nothing. */
const REACH = 5, DISC_REACH = 1.25;
const LEAST_RADIUS_PX = 2;
const SPRITE_RADIUS_PX = 24;
/** R / (R + G + B) from which WCAG 2.2 calls a colour saturated red. */
const RED_SHARE = 0.8;
/** How far around a full lamp there is a tenth of its light or more: 0.34 exp(-(r / 1.7)^2) = 0.1 at r = 1.9. */
const LIT_RADII = 1.9;
const BODY = '#15191f', EDGE = '#606a76', MARGIN = 0.02;

/** Linear light 0..1 as a code value 0..1 (IEC 61966-2-1, sRGB). */
export function encoded(linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;
}

function codes(rgb) {
  return rgb.map((value) => Math.round(255 * encoded(value)));
}

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

function halo(distance) {
  const sum = HALOS.reduce((light, [height, width]) => light + height * Math.exp(-((distance / width) ** 2)), 0);
  return sum * Math.max(0, 1 - (distance / REACH) ** 4);
}

function disc(distance) {
  return Math.max(0, Math.min(1, (1.08 - distance) / 0.16));
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
    const box = this.canvas.parentElement.getBoundingClientRect();
    const ratio = window.devicePixelRatio || 1;
    const width_px = Math.min(box.width, box.height * width_mm / height_mm) * (1 - MARGIN);
    this.scale = width_px / width_mm * ratio;
    this.canvas.width = Math.max(Math.round(width_mm * this.scale), 1);
    this.canvas.height = Math.max(Math.round(height_mm * this.scale), 1);
    this.canvas.style.width = `${this.canvas.width / ratio}px`;
    this.canvas.style.height = `${this.canvas.height / ratio}px`;
    for (const side of ['width', 'height']) this.canvas.nextElementSibling.style[side] = this.canvas.style[side];
    this.lamps = prop.lamps.map((lamp) => this.lamp(lamp, ratio));
    this.guard = relaid(this.guard, this.lamps, this.still.matches);
    this.unlit = this.ground();
    this.drawn = '';
    this.light(this.shares || [], performance.now() / 1000);
  }

  lamp(lamp, ratio) {
    const radius_px = Math.max(lamp.size_mm / 2 * this.scale, LEAST_RADIUS_PX);
    const [red, green, blue] = lamp.rgb;
    const colour = lamp.rgb.join();
    if (!this.sprites.has(colour)) this.sprites.set(colour, { halo: sprite(lamp.rgb, REACH, halo), disc: sprite(lamp.rgb, DISC_REACH, disc) });
    return {
      ...lamp, x_px: lamp.x_mm * this.scale, y_px: lamp.y_mm * this.scale, radius_px, sprites: this.sprites.get(colour),
      area_px: Math.PI * (LIT_RADII * radius_px / ratio) ** 2, red: red / (red + green + blue) >= RED_SHARE,
    };
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
      this.outline(pen);
    }
    for (const { x_px, y_px, radius_px, rgb } of this.lamps) {
      pen.beginPath();
      pen.arc(x_px, y_px, radius_px, 0, 2 * Math.PI);
      pen.fillStyle = `rgb(${codes(rgb.map((value) => (value + 0.1) * 0.05)).join()})`;
      pen.fill();
    }
    return canvas;
  }

  outline(pen) {
    const corners = this.prop.picture.outline_mm;
    if (corners.length < 3) return;
    pen.beginPath();
    for (const [x_mm, y_mm] of corners) pen.lineTo(x_mm * this.scale, y_mm * this.scale);
    pen.closePath();
    pen.fillStyle = BODY;
    pen.fill();
    pen.strokeStyle = EDGE;
    pen.lineWidth = Math.max(this.scale, 1);
    pen.lineJoin = 'round';
    pen.stroke();
  }

  setGuard(isOn) {
    this.guardOn = isOn;
    if (!isOn && this.isGentle) this.onGentle(this.isGentle = false);
  }

  /** Draws the lamps at these shares of full duty, by channel. */
  light(shares, now_s) {
    this.shares = shares;
    const asked = Float32Array.from(this.lamps, (lamp) => shares[lamp.channel] || 0);
    const shown = this.guardOn ? this.held(asked, now_s) : asked;
    const codes = Uint8Array.from(shown, (share) => Math.round(255 * encoded(share)));
    const drawn = codes.join();
    if (drawn === this.drawn) return;
    this.drawn = drawn;
    this.pen.globalCompositeOperation = 'copy';
    this.pen.globalAlpha = 1;
    this.pen.drawImage(this.unlit, 0, 0);
    // Halos add up. A disc is the lamp itself: halos on top of it would turn amber into yellow.
    this.shine('lighter', 'halo', REACH, codes);
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
    this.guard = guarded(this.guard, asked, now_s);
    if (this.guard.gentle !== this.isGentle) {
      this.isGentle = this.guard.gentle;
      this.onGentle(this.isGentle);
    }
    return this.guard.shown;
  }
}
