// SPDX-License-Identifier: GPL-3.0-or-later
// Where everything is at an instant, from the series. The frames are those of the program:
//   swing plane frame (X, Y, Z): origin at the hub, X towards the target, Y up the slope, Z its normal, away
//   from the golfer; the arms at R (sin th, -cos th, 0), the handle along e1 = (sin b, -cos b, 0), the face
//   looking along e2, turned by the roll about e1 from (cos b, sin b, 0), the toe along e3 = e1 x e2.
//   room frame (x, y, z): towards the target, up, away from a right-handed golfer; a left-handed golfer is the
//   mirror image in the plane of target line and vertical. The plane rises at `inclination` and is turned about
//   the vertical by `direction`.
import type { Series } from "./api";

export type Vec = [number, number, number];

export const add = (a: Vec, b: Vec): Vec => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
export const scale = (a: Vec, f: number): Vec => [a[0] * f, a[1] * f, a[2] * f];
const cross = (a: Vec, b: Vec): Vec => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];

/** v turned about the unit vector k (Rodrigues). */
function turned(v: Vec, k: Vec, angle: number): Vec {
  const c = Math.cos(angle);
  const along = (k[0] * v[0] + k[1] * v[1] + k[2] * v[2]) * (1 - c);
  return add(add(scale(v, c), scale(cross(k, v), Math.sin(angle))), scale(k, along));
}

/** What of the setup the drawing needs, in m and rad. */
export interface Build {
  arm: number;
  inclination: number;
  direction: number;
  lie: number;
  face: Vec; // forward, up, toe from the hosel's mouth
  mass: Vec; // centre of mass, likewise
  left: boolean;
}

export interface Pose {
  hands: Vec;
  shaft: Vec[]; // hands to tip
  straight: Vec[];
  tip: { forward: Vec; up: Vec; toe: Vec }; // the head's axes
  face: Vec;
  mass: Vec;
  head: Vec; // face centre as the program gives it, in the room frame
}

export const RAD = Math.PI / 180;
export const TEE = 0.035; // m, of the ball's centre above the ground, for the drawing alone

/** Where the ground is, for the drawing alone: below the ball, or as far down as the club reaches. */
export function floorOf(series: Series, b: Build, end: Pose): number {
  return series.met_ball ? end.head[1] - TEE : -(b.arm + series.places_m[0]) * Math.sin(b.inclination) - TEE;
}

/** A golfer for the drawing alone, around the hub: bars of a radius through points, balls, and where the arms begin.
 * `side`: 1 for a right-handed one. */
export function bodySketch(floor: number, side: number): { bars: { radius: number; points: Vec[] }[]; knobs: { radius: number; at: Vec }[]; shoulders: Vec[] } {
  const hips: Vec = [0, floor * 0.36, -0.3 * side];
  const leg = (x: number): Vec[] => [[x * 0.5, hips[1], hips[2]], [x, floor * 0.68, -0.17 * side], [x * 1.1, floor + 0.04, -0.26 * side]];
  return {
    bars: [
      { radius: 0.085, points: [[0, -0.02, -0.02 * side], [0, floor * 0.18, -0.19 * side], hips] },
      { radius: 0.05, points: [[-0.17, 0, 0], [0.17, 0.03, 0]] },
      { radius: 0.05, points: leg(-0.2) },
      { radius: 0.05, points: leg(0.2) },
    ],
    knobs: [{ radius: 0.1, at: [-0.03, 0.2, 0.08 * side] }],
    shoulders: [[-0.17, 0, 0], [0.17, 0.03, 0]],
  };
}

function room(v: Vec, b: Build): Vec {
  const [ci, si] = [Math.cos(b.inclination), Math.sin(b.inclination)];
  const [cd, sd] = [Math.cos(b.direction), Math.sin(b.direction)];
  const up = si * v[1] + ci * v[2];
  const out = si * v[2] - ci * v[1];
  const z = v[0] * sd + out * cd;
  return [v[0] * cd - out * sd, up, b.left ? -z : z];
}

/** Index and fraction of a time in the rows. */
export function locate(time: (number | null)[], t: number): [number, number] {
  let low = 0;
  let high = time.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((time[middle] as number) <= t) low = middle;
    else high = middle;
  }
  const [a, b] = [time[low] as number, time[high] as number];
  return [low, b > a ? Math.min(1, Math.max(0, (t - a) / (b - a))) : 0];
}

/** Comma and full stop go to the sample before and after t; null for other keys. */
export function keyedTime(event: KeyboardEvent, time: number[], t: number): number | null {
  const step = event.key === "." ? 1 : event.key === "," ? -1 : 0;
  if (!step) return null;
  const [i, f] = locate(time, t);
  return time[Math.min(time.length - 1, Math.max(0, (f > 0.999 ? i + 1 : i) + step))];
}

export function valueAt(series: Series, name: string, t: number): number | null {
  const [i, f] = locate(series.columns.time_s, t);
  const column = series.columns[name];
  const a = column[i];
  const b = column[Math.min(i + 1, column.length - 1)];
  return a === null || b === null ? null : a + (b - a) * f;
}

/** Places from the hands to the tip in the plane frame. */
function bent(series: Series, t: number, hands: Vec, e1: Vec, ahead: Vec, factor: number): Vec[] {
  const places = series.places_m;
  const [i, f] = locate(series.columns.time_s, t);
  const offsets = (rows: number[][], tip: string) => {
    const next = rows[Math.min(i + 1, rows.length - 1)];
    return rows[i].map((v, k) => v + (next[k] - v) * f).concat(valueAt(series, tip, t) ?? 0);
  };
  const from = places.map((place) => places[0] - place).concat(places[0]);
  const trail = offsets(series.trail_mm, "lag_mm");
  const out = offsets(series.out_of_plane_mm, "out_of_plane_mm");
  const shape = from.map((_, k): [number, number] => [-trail[k] / 1e3, out[k] / 1e3]);
  let along = 0;
  return shape.map(([a, z], k) => {
    if (k > 0) {
      // The shaft keeps its length: the true offsets shorten it along the handle.
      const step = from[k] - from[k - 1];
      const side = Math.hypot(a - shape[k - 1][0], z - shape[k - 1][1]);
      along += Math.sqrt(Math.max(0, step * step - side * side));
    }
    return add(add(hands, scale(e1, along)), add(scale(ahead, a * factor), [0, 0, z * factor]));
  });
}

export function pose(series: Series, b: Build, t: number, factor: number): Pose {
  const value = (name: string) => valueAt(series, name, t) ?? 0;
  const arm = value("arm_angle_deg") * RAD;
  const club = value("club_angle_deg") * RAD;
  const hands: Vec = [b.arm * Math.sin(arm), -b.arm * Math.cos(arm), 0];
  const e1: Vec = [Math.sin(club), -Math.cos(club), 0];
  const ahead: Vec = [Math.cos(club), Math.sin(club), 0];
  const e2 = turned(ahead, e1, value("roll_deg") * RAD);
  const e3 = cross(e1, e2);
  const shaft = bent(series, t, hands, e1, ahead, factor);
  const straight = [hands, add(hands, scale(e1, series.places_m[0]))];
  // The tip's axes: bent towards the face by the lead slope, toe down by the droop slope, closed by the twist.
  const carry = (v: Vec) =>
    turned(
      turned(turned(v, e3, value("lead_slope_deg") * RAD * factor), e2, value("droop_slope_deg") * RAD * factor),
      e1,
      -value("tip_twist_deg") * RAD * factor,
    );
  const [t1, t2, t3] = [carry(e1), carry(e2), carry(e3)];
  const up = add(scale(t1, -Math.sin(b.lie)), scale(t3, Math.cos(b.lie)));
  const toe = add(scale(t1, Math.cos(b.lie)), scale(t3, Math.sin(b.lie)));
  const place = (p: Vec) =>
    add(shaft[shaft.length - 1], add(add(scale(t2, p[0]), scale(up, p[1])), scale(toe, p[2])));
  const seen = (v: Vec) => room(v, b);
  return {
    hands: seen(hands),
    shaft: shaft.map(seen),
    straight: straight.map(seen),
    tip: { forward: seen(t2), up: seen(up), toe: seen(toe) },
    face: seen(place(b.face)),
    mass: seen(place(b.mass)),
    head: [value("head_ahead_m"), value("head_up_m"), value("head_out_m") * (b.left ? -1 : 1)],
  };
}
