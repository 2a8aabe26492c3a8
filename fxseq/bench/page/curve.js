/** How a fade goes, as numbers: no drawing. */

export const SHAPES = ['step', 'straight', 'ease', 'decay', 'flicker'];
/** Where a curve goes that gives back to the ambient light, and where one begins that takes over, is not known here: at the ground. */
const GROUND_PERCENT = 0;
const DECAY_RATE = 5;
const PARTS = 24, MOST_FLICKERS = 60;
/** Points of one curve: a short loop goes round often. */
const MOST_POINTS = 2000;

/** A fade of the file with what it leaves out. */
export function whole({ segments, from_percent = null, loop = false }) {
  return { segments: segments.map((segment) => ({ shape: 'straight', length_ms: 0, ...segment })), from_percent, loop };
}

export function levelOf({ to_percent }) {
  return to_percent === 'ambient' ? GROUND_PERCENT : to_percent;
}

export function startOf({ from_percent }) {
  return from_percent ?? GROUND_PERCENT;
}

/** Of one round. */
export function lengthOf({ segments }) {
  return segments.reduce((sum, { length_ms }) => sum + length_ms, 0);
}

/** Points [ms, percent] of a fade; one that loops goes round until a time. */
export function curve(fade, until_ms = 0) {
  /** @type {any[]} */
  const points = [[0, startOf(fade)]];
  do {
    for (const segment of fade.segments) points.push(...part(segment, ...points.at(-1)));
  } while (fade.loop && lengthOf(fade) > 0 && points.at(-1)[0] < until_ms && points.length < MOST_POINTS);
  return points;
}

function part(segment, from_ms, level) {
  const { shape, length_ms, low_percent = 0, every_ms = length_ms } = segment, target = levelOf(segment);
  if (shape === 'step') return [[from_ms, target], [from_ms + length_ms, target]];
  const parts = shape === 'flicker' ? Math.max(2, Math.min(MOST_FLICKERS, Math.round(length_ms / every_ms))) : PARTS;
  return Array.from({ length: parts }, (_, at) => {
    const way = (at + 1) / parts;
    const flickered = at % 2 ? low_percent : target;
    return [from_ms + length_ms * way, shape === 'flicker' ? flickered : level + (target - level) * progress(shape, way)];
  });
}

/** Share of the way gone (SPEC 6.3, without its rounding). */
function progress(shape, way) {
  if (shape === 'ease') return way * way * (3 - 2 * way);
  if (shape === 'decay') return (1 - Math.exp(-DECAY_RATE * way)) / (1 - Math.exp(-DECAY_RATE));
  return way;
}

/** A segment as two: [how the first one changes, the second], parted after a time of it. level: where it begins. */
export function split(segment, level, after_ms) {
  const { shape, length_ms } = segment, target = levelOf(segment), way = length_ms ? after_ms / length_ms : 1;
  const isMoving = shape !== 'step' && shape !== 'flicker';
  const between = isMoving ? Math.round(level + (target - level) * progress(shape, way)) : segment.to_percent;
  return [{ to_percent: between, length_ms: after_ms }, { ...segment, length_ms: Number((length_ms - after_ms).toFixed(3)) }];
}

/** As a path of a drawing. */
export function pathOf(points) {
  return points.map(([x, y], at) => `${at ? 'L' : 'M'} ${x.toFixed(1)} ${y.toFixed(1)}`).join(' ');
}

/** 1, 2 or 5 times a power of ten, no less than asked. @returns {any} */
export function niceStep(least) {
  const power = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((times) => times * power).find((step) => step >= least);
}
