// SPDX-License-Identifier: GPL-3.0-or-later
// The player and the club from two sides (three.js). What is computed is drawn in colour; the player's body is a
// sketch around the hub, in grey.
import * as three from "three";
import type { Series } from "./api";
import { type Build, type Pose, RAD, type Vec, bodySketch, floorOf, pose } from "./geometry";
import { AS_IT_WAS, type Turn } from "./swing_turn";

const BENT = 0xa8420f;
const STRAIGHT = 0x1b3a5c;
const SKETCH = 0xc4c0b6;
const INK = 0x22303c;
const PAPER = 0xfbfaf7;
const PATH = 0xd7a184;
const FLOOR = 0xeee9dd;

const vector = (v: Vec) => new three.Vector3(...v);

/** A round bar through points; kept and bent anew, as it moves. */
class Bar {
  readonly mesh: three.Mesh;
  constructor(
    private readonly radius: number,
    colour: number,
    private readonly segments = 40,
    lit = true,
  ) {
    const material = lit ? new three.MeshLambertMaterial({ color: colour }) : new three.MeshBasicMaterial({ color: colour });
    this.mesh = new three.Mesh(new three.BufferGeometry(), material);
  }
  through(points: Vec[]): void {
    const curve =
      points.length > 2
        ? new three.CatmullRomCurve3(points.map(vector), false, "centripetal")
        : new three.LineCurve3(vector(points[0]), vector(points[1]));
    this.mesh.geometry.dispose();
    this.mesh.geometry = new three.TubeGeometry(curve, points.length > 2 ? this.segments : 1, this.radius, 8);
  }
}

interface Eye {
  camera: three.OrthographicCamera;
  from: Vec; // before it is turned
  turn: Turn;
  box: three.Box2;
}

/** A direction turned about the vertical, anticlockwise from above, and raised. */
function turned([x, y, z]: Vec, { about, up }: Turn): Vec {
  const round = Math.atan2(-z, x) + about * RAD;
  const high = Math.atan2(y, Math.hypot(x, z)) + up * RAD;
  return [Math.cos(high) * Math.cos(round), Math.sin(high), -Math.cos(high) * Math.sin(round)];
}

export class Stage {
  readonly canvas = document.createElement("canvas");
  private readonly renderer: three.WebGLRenderer;
  private readonly scene = new three.Scene();
  private readonly club = new Bar(0.008, BENT, 40, false);
  private readonly straight = new Bar(0.004, STRAIGHT, 40, false);
  private readonly arms = [new Bar(0.03, SKETCH), new Bar(0.03, SKETCH)];
  private readonly body = new three.Group();
  private readonly head = new three.Group();
  private readonly ball = new three.Mesh(
    new three.SphereGeometry(0.0214, 20, 14),
    new three.MeshBasicMaterial({ color: 0xffffff }),
  );
  private readonly ground = new three.Group();
  private readonly path = new three.Line(new three.BufferGeometry(), new three.LineBasicMaterial({ color: PATH }));
  private readonly eyes: Eye[] = [
    { camera: new three.OrthographicCamera(), from: [-1, 0.06, 0], turn: AS_IT_WAS, box: new three.Box2() },
    { camera: new three.OrthographicCamera(), from: [0, 0.06, 1], turn: AS_IT_WAS, box: new three.Box2() },
  ];
  private series: Series | null = null;
  private build: Build | null = null;
  private room: Vec[] = []; // what both pictures show

  /** Throws when the browser has no WebGL. */
  constructor() {
    this.renderer = new three.WebGLRenderer({ canvas: this.canvas, antialias: true });
    this.renderer.setClearColor(PAPER);
    this.renderer.autoClear = false;
    const sun = new three.DirectionalLight(0xffffff, 1.6);
    sun.position.set(-2, 4, 3);
    this.scene.add(new three.HemisphereLight(0xffffff, 0x998877, 1.9), sun);
    this.scene.add(this.club.mesh, this.straight.mesh, this.body, this.head, this.ball, this.ground, this.path);
    for (const arm of this.arms) this.scene.add(arm.mesh);
    // A rim, so that white shows on white.
    const rim = new three.Mesh(
      new three.SphereGeometry(0.029, 20, 14),
      new three.MeshBasicMaterial({ color: INK, side: three.BackSide }),
    );
    this.ball.add(rim);
    this.headMake();
  }

  private headMake(): void {
    const shell = new three.Mesh(
      new three.SphereGeometry(1, 28, 18),
      new three.MeshLambertMaterial({ color: INK }),
    );
    shell.scale.set(0.05, 0.028, 0.058);
    const face = new three.Mesh(
      new three.SphereGeometry(1, 20, 12),
      new three.MeshLambertMaterial({ color: BENT }),
    );
    face.scale.set(0.006, 0.026, 0.048);
    face.name = "face";
    this.head.add(shell, face);
  }

  /** A new swing: body, ground and what of the room both views show. */
  load(series: Series, build: Build): void {
    this.series = series;
    this.build = build;
    const time = series.columns.time_s as number[];
    const poses = time.filter((_, i) => i % 6 === 0 || i === time.length - 1).map((t) => pose(series, build, t, 1));
    const end = poses[poses.length - 1];
    const floor = floorOf(series, build, end);
    this.ball.position.set(...end.head).add(new three.Vector3(0.0214, 0, 0));
    this.ball.visible = series.met_ball;
    this.bodyMake(floor, build.left ? -1 : 1);
    this.groundMake(floor, end.head);
    this.path.geometry.dispose();
    this.path.geometry = new three.BufferGeometry().setFromPoints(time.map((t) => vector(pose(series, build, t, 1).head)));
    const points = poses.flatMap((p) => [p.head, p.hands]);
    points.push([-0.3, floor - 0.06, 0], [0.3, 0.36, -0.25], [0, floor, (build.left ? 1 : -1) * 0.5]);
    this.eyes[1].from = [0, 0.06, build.left ? -1 : 1]; // where the golfer looks
    this.room = points;
    for (const eye of this.eyes) this.frame(eye);
  }

  /** From where a picture is seen; drawn by the next draw. */
  turn(picture: number, turn: Turn): void {
    const eye = this.eyes[picture];
    if (eye.turn.about === turn.about && eye.turn.up === turn.up) return;
    eye.turn = turn;
    this.frame(eye);
  }

  private bodyMake(floor: number, side: number): void {
    this.body.clear();
    const skin = new three.MeshLambertMaterial({ color: SKETCH });
    const knob = (radius: number, at: Vec) => {
      const ball = new three.Mesh(new three.SphereGeometry(radius, 20, 14), skin);
      ball.position.set(...at);
      this.body.add(ball);
    };
    const sketch = bodySketch(floor, side);
    for (const { radius, points } of sketch.bars) {
      const one = new Bar(radius, SKETCH, 16);
      one.through(points);
      this.body.add(one.mesh);
      for (const end of [points[0], points[points.length - 1]]) knob(radius, end);
    }
    for (const { radius, at } of sketch.knobs) knob(radius, at);
  }

  private groundMake(floor: number, ball: Vec): void {
    this.ground.clear();
    const line = (points: Vec[], colour: number) =>
      this.ground.add(
        new three.Line(
          new three.BufferGeometry().setFromPoints(points.map(vector)),
          new three.LineBasicMaterial({ color: colour }),
        ),
      );
    // Hides nothing: drawn larger than it is, the bending reaches through it.
    const mat = new three.Mesh(
      new three.PlaneGeometry(8, 8),
      new three.MeshBasicMaterial({ color: FLOOR, depthWrite: false }),
    );
    mat.renderOrder = -1;
    mat.rotateX(-Math.PI / 2);
    mat.position.y = floor;
    this.ground.add(mat);
    line([[-4, floor, ball[2]], [4, floor, ball[2]]], 0x6f7d6a); // the target line
  }

  private frame(eye: Eye): void {
    const { camera } = eye;
    camera.position.set(...turned(eye.from, eye.turn)).multiplyScalar(8);
    camera.lookAt(0, 0, 0);
    camera.updateMatrixWorld();
    eye.box.makeEmpty();
    for (const p of this.room) {
      const v = vector(p).applyMatrix4(camera.matrixWorldInverse);
      eye.box.expandByPoint(new three.Vector2(v.x, v.y));
    }
    eye.box.expandByScalar(0.12);
  }

  draw(t: number, factor: number): Pose | null {
    if (!this.series || !this.build) return null;
    const now = pose(this.series, this.build, t, factor);
    this.club.through(now.shaft);
    this.straight.through(now.straight);
    this.arms[0].through([[-0.17, 0, 0], now.hands]);
    this.arms[1].through([[0.17, 0.03, 0], now.hands]);
    const { forward, up, toe } = now.tip;
    const axes = new three.Matrix4().makeBasis(vector(forward), vector(up), vector(toe));
    const shell = this.head.children[0];
    const face = this.head.children[1];
    for (const [part, place] of [[shell, now.mass], [face, now.face]] as const) {
      part.setRotationFromMatrix(axes);
      part.position.set(...place);
    }
    const rows = this.series.columns.time_s as number[];
    this.path.geometry.setDrawRange(0, Math.max(2, rows.filter((time) => time <= t).length));
    this.render();
    return now;
  }

  private render(): void {
    const { width, height } = this.renderer.getSize(new three.Vector2());
    const half = Math.floor(width / 2);
    this.renderer.setScissorTest(true);
    this.eyes.forEach((eye, i) => {
      const size = eye.box.getSize(new three.Vector2());
      const middle = eye.box.getCenter(new three.Vector2());
      const metre = Math.max(size.x / half, size.y / height); // a pixel
      Object.assign(eye.camera, {
        left: middle.x - (metre * half) / 2,
        right: middle.x + (metre * half) / 2,
        top: middle.y + (metre * height) / 2,
        bottom: middle.y - (metre * height) / 2,
        near: 0.1,
        far: 20,
      });
      eye.camera.updateProjectionMatrix();
      this.renderer.setViewport(i * half, 0, half, height);
      this.renderer.setScissor(i * half, 0, half - (i ? 0 : 1), height);
      this.renderer.clear();
      this.renderer.render(this.scene, eye.camera);
    });
  }

  resize(width: number, height: number): void {
    this.renderer.setPixelRatio(Math.min(2, window.devicePixelRatio));
    this.renderer.setSize(width, height);
  }
}
