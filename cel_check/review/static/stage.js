// The picture: a frame drawn to the window's own pixels, what lies over it, and where a pointer is on it.

import { picture } from "/static/server.js";

const SVG = "http://www.w3.org/2000/svg";
const ZOOMS = [0.25, 0.5, 1, 2, 4, 8, 16, 32];
const TINTS = { last: "#b02020", next: "#1f5fb0" };

export class Stage {
  constructor(root, state) {
    this.root = root;
    this.state = state;
    this.canvas = root.querySelector("canvas");
    this.marks = root.querySelector("#marks");
    this.blank = root.querySelector("#blank");
    this.turn = 0;
    this.zoom = 0; // 0 fits the window
    this.middle = [0, 0];
    new ResizeObserver(() => this.draw()).observe(root);
  }

  get size() {
    return this.state.scene.size || [1, 1];
  }

  get scale() {
    const [width, height] = this.size;
    const fit = Math.min(this.root.clientWidth / width, this.root.clientHeight / height);
    return this.zoom || fit || 1;
  }

  get offset() {
    const { clientWidth: across, clientHeight: down } = this.root;
    const [width, height] = this.size;
    const middle = this.zoom ? this.middle : [width / 2, height / 2];
    return [across / 2 - middle[0] * this.scale, down / 2 - middle[1] * this.scale];
  }

  toPicture(event) {
    const box = this.root.getBoundingClientRect();
    const [left, top] = this.offset;
    const at = [(event.clientX - box.left - left) / this.scale, (event.clientY - box.top - top) / this.scale];
    return at.map((value, axis) => Math.max(0, Math.min(this.size[axis] - 1, Math.floor(value))));
  }

  // The server scales: the page asks for the smallest picture that fills the window's own pixels.
  get reduce() {
    const most = 1 / (this.scale * devicePixelRatio);
    return this.state.words.reductions.findLast((times) => times <= most * 1.001) || 1;
  }

  path(frame) {
    return `/picture/${this.state.n}/frame/${frame}/${this.state.mask}/${this.reduce}?v=${this.state.version}`;
  }

  ahead(count) {
    const frames = this.state.scene.frames.length;
    for (let step = 1; step <= Math.min(count, frames - 1); step += 1) {
      picture(this.path((this.state.frame + step) % frames)).catch(() => {});
    }
    if (this.state.frame > 0) picture(this.path(this.state.frame - 1)).catch(() => {});
  }

  zoomBy(steps) {
    const now = this.scale;
    const next = steps > 0
      ? ZOOMS.find((zoom) => zoom > now * 1.01)
      : ZOOMS.findLast((zoom) => zoom < now / 1.01);
    if (!next) return;
    if (!this.zoom) this.middle = this.aim();
    this.zoom = next;
    this.draw();
  }

  aim() {
    const fault = this.state.fault;
    const box = fault && this.state.placed(fault);
    if (box) return [box[0] + box[2] / 2, box[1] + box[3] / 2];
    return [this.size[0] / 2, this.size[1] / 2];
  }

  follow(at) {
    if (this.zoom) this.middle = [...at];
  }

  pan(across, down) {
    if (!this.zoom) return;
    this.middle[0] -= across / this.scale;
    this.middle[1] -= down / this.scale;
    this.draw();
  }

  fit() {
    this.zoom = 0;
    this.draw();
  }

  async draw() {
    const turn = (this.turn += 1);
    const { state } = this;
    if (!state.scene || !state.scene.frames.length || !state.scene.size) {
      this.showBlank("There is no picture of this scene to show.");
      return;
    }
    const frame = state.flipped ? state.held : state.frame;
    try {
      const layers = await Promise.all([picture(this.path(frame)), ...this.neighbors()]);
      if (turn === this.turn) this.paint(layers, frame);
    } catch (problem) {
      if (turn === this.turn) this.showBlank(problem.message);
    }
  }

  neighbors() {
    if (!this.state.overlay) return [];
    return this.state.nextDrawings().map(({ level, drawing, side }) =>
      picture(`/picture/${this.state.n}/cel/${level}/${drawing}/${this.reduce}?v=${this.state.version}`)
        .then((bitmap) => tinted(bitmap, TINTS[side])));
  }

  showBlank(text) {
    this.blank.hidden = false;
    this.blank.textContent = text;
  }

  paint([bitmap, ...over], frame) {
    this.blank.hidden = true;
    const ratio = devicePixelRatio;
    const { clientWidth: across, clientHeight: down } = this.root;
    this.canvas.width = Math.round(across * ratio);
    this.canvas.height = Math.round(down * ratio);
    const context = this.canvas.getContext("2d");
    const [left, top] = this.offset;
    const [width, height] = this.size.map((side) => side * this.scale);
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    context.imageSmoothingEnabled = this.scale * ratio < 2; // single pixels have edges
    context.imageSmoothingQuality = "high";
    context.drawImage(bitmap, left, top, width, height);
    context.globalAlpha = 0.45;
    for (const one of over) context.drawImage(one, left, top, width, height);
    context.globalAlpha = 1;
    this.paintMarks(frame);
    this.root.dataset.shown = String(frame);
  }

  paintMarks(frame) {
    const { clientWidth: across, clientHeight: down } = this.root;
    this.marks.setAttribute("viewBox", `0 0 ${across} ${down}`);
    this.marks.replaceChildren();
    const cels = this.state.scene.frames[frame].cels;
    this.state.scene.faults.forEach((fault, place) => {
      const there = fault.level !== null && cels[fault.level] === fault.drawing;
      if (fault.box && there && this.state.shows(fault.level)) this.mark(fault, place + 1);
    });
    if (this.state.safe) this.field(this.state.scene.fields[frame]);
    if (this.state.box) this.outline(this.state.box, "now");
    if (this.state.cross) this.crosshair(this.state.cross);
  }

  // What the camera sees, and in it, dashed, where action and titles are safe.
  field([left, top, right, bottom]) {
    const [across, down] = this.offset;
    const [width, height] = [right - left, bottom - top];
    const group = element("g", { class: "field" });
    for (const share of [1, ...this.state.words.safe]) {
      const box = {
        x: across + (left + (width * (1 - share)) / 2) * this.scale,
        y: down + (top + (height * (1 - share)) / 2) * this.scale,
        width: width * share * this.scale, height: height * share * this.scale,
      };
      const name = share === 1 ? "" : " safe";
      group.append(
        element("rect", { ...box, class: "mark-under" }), element("rect", { ...box, class: `mark-over${name}` }));
    }
    this.marks.append(group);
  }

  outline([x, y, width, height], name) {
    const [left, top] = this.offset;
    const group = element("g", { class: name });
    const box = {
      x: left + x * this.scale - 3, y: top + y * this.scale - 3,
      width: width * this.scale + 6, height: height * this.scale + 6,
    };
    group.append(element("rect", { ...box, class: "mark-under" }), element("rect", { ...box, class: "mark-over" }));
    this.marks.append(group);
    return [group, box];
  }

  mark(fault, number) {
    const now = fault === this.state.fault ? "now" : "";
    const waved = fault.verdict === "pass" ? "waved" : "";
    const [group, box] = this.outline(this.state.placed(fault), `${now} ${waved}`);
    const place = `translate(${Math.max(12, box.x)} ${Math.max(12, box.y)}) scale(11)`;
    const shape = this.state.words.kinds[fault.kind].shape;
    const text = element("text", { class: "badge-text", x: Math.max(12, box.x), y: Math.max(12, box.y) + 0.5 });
    text.textContent = String(number);
    group.append(element("polygon", { points: shape, transform: place, class: "badge-shape" }), text);
  }

  crosshair([x, y]) {
    const [left, top] = this.offset;
    const at = [left + (x + 0.5) * this.scale, top + (y + 0.5) * this.scale];
    const reach = Math.max(8, this.scale);
    const d = `M${at[0] - reach * 2} ${at[1]}h${reach}m${reach * 2} 0h${reach}M${at[0]} ${at[1] - reach * 2}v${reach}m0 ${reach * 2}v${reach}`;
    const group = element("g", {});
    group.append(element("path", { d, class: "mark-under" }), element("path", { d, class: "mark-over" }));
    this.marks.append(group);
  }
}

function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function tinted(bitmap, color) {
  const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
  const context = canvas.getContext("2d");
  context.drawImage(bitmap, 0, 0);
  context.globalCompositeOperation = "source-atop";
  context.globalAlpha = 0.6;
  context.fillStyle = color;
  context.fillRect(0, 0, canvas.width, canvas.height);
  return canvas;
}
