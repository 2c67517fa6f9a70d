/** How a frame is turned and cropped, as recipes state it, and how that looks. */

export const MOST_TURN = 45;

const degrees = (radians) => (180 * radians) / Math.PI;
const radians = (degrees) => (Math.PI * degrees) / 180;

/** Degrees by which a line from a to b, in pixels downwards, leans from level or from upright. */
export function leaning(a, b) {
  const angle = degrees(Math.atan2(b[1] - a[1], b[0] - a[0]));
  return angle - 90 * Math.round(angle / 90);
}

/** The part of a turned frame that has no empty corner, in its own shape: left, top, right, bottom. */
export function uncut(turn, ratio) {
  const [cos, sin] = [Math.cos(radians(turn)), Math.abs(Math.sin(radians(turn)))];
  const share = 1 / (cos + sin * Math.max(ratio, 1 / ratio));
  const edge = (1 - share) / 2;
  return { left: edge, top: edge, right: 1 - edge, bottom: 1 - edge };
}

/** What of a turned frame is shown. */
export function shownBox(framing, ratio) {
  return framing?.crop ?? uncut(framing?.straighten ?? 0, ratio);
}

/** Framing with another turn, or none where nothing is left of it. */
export function turned(framing, turn) {
  const within = Math.min(Math.max(turn, -MOST_TURN), MOST_TURN);
  const straighten = Math.round(10 * within) / 10;
  const next = { ...framing, straighten };
  if (!straighten) delete next.straighten;
  return Object.keys(next).length ? next : null;
}

/** Framing with a crop between two places of the turned frame. */
export function cropped(framing, a, b) {
  const order = (i) => [Math.min(a[i], b[i]), Math.max(a[i], b[i])].map((v) => Number(v.toFixed(4)));
  const [[left, right], [top, bottom]] = [order(0), order(1)];
  if (right - left < 0.05 || bottom - top < 0.05) return framing ?? null;
  return { ...framing, crop: { left, top, right, bottom } };
}
