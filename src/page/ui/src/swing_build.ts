// SPDX-License-Identifier: GPL-3.0-or-later
import type { Inputs, InputValue } from "./api";
import { type Build, RAD } from "./geometry";

export { pose } from "./geometry";

/** What the drawing needs of the setup, from its inputs. */
export function buildOf(inputs: Inputs): Build {
  const value = (path: string): InputValue | undefined => inputs.inputs.find((i) => i.path === path)?.value;
  const number = (path: string) => value(path) as number;
  const place = (of: string) =>
    ["forward", "up", "toe"].map((axis) => number(`head.${of}.${axis}`) / 1e3) as [number, number, number];
  return {
    arm: number("player.arm.length") / 1e3,
    inclination: number("player.plane.inclination") * RAD,
    direction: number("player.plane.direction") * RAD,
    lie: number("head.lie") * RAD,
    face: place("face_centre"),
    mass: place("centre_of_mass"),
    left: value("player.handed") === "left",
  };
}
