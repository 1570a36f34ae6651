// The exposure sheet in small: a row a level, a bar a drawing as long as it is held.

const SVG = "http://www.w3.org/2000/svg";
const ROW = 13;
const NAMES = 3; // percent of the width that the levels' names take

export class Sheet {
  constructor(root, state) {
    this.svg = root.querySelector("svg");
    this.state = state;
  }

  build() {
    const { frames, levels } = this.state.scene;
    this.svg.replaceChildren();
    this.svg.setAttribute("height", String(levels.length * ROW + 2));
    levels.forEach((level, row) => {
      const y = (levels.length - 1 - row) * ROW;
      const name = this.add("text", { x: 0, y: y + ROW - 3, class: "sheet-name" });
      name.textContent = level.name.slice(0, 3);
      for (const [from, until, drawing] of runs(frames, row)) this.bar(row, y, [from, until], drawing);
    });
    this.line = this.add("line", { y1: 0, y2: levels.length * ROW, class: "sheet-now" });
    this.move();
  }

  bar(row, y, [from, until], drawing) {
    const cel = this.state.scene.levels[row].drawings[drawing];
    const open = this.state.scene.faults.filter((fault) => fault.level === row && fault.drawing === drawing);
    const worst = ["retake", "query"].find((verdict) => open.some((fault) => fault.verdict === verdict)) || "pass";
    const bar = this.add("rect", {
      x: `${this.at(from)}%`, width: `${this.at(until) - this.at(from)}%`, y: y + 1, height: ROW - 2,
      class: `bar-cel v-${worst}`,
    });
    const title = document.createElementNS(SVG, "title");
    title.textContent = `${this.state.scene.levels[row].name} ${cel.drawing}`;
    bar.append(title);
  }

  at(frame) {
    return NAMES + ((100 - NAMES) * frame) / this.state.scene.frames.length;
  }

  move() {
    if (!this.line) return;
    const x = `${this.at(this.state.frame + 0.5)}%`;
    this.line.setAttribute("x1", x);
    this.line.setAttribute("x2", x);
  }

  add(name, attributes) {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    this.svg.append(made);
    return made;
  }
}

function runs(frames, row) {
  const found = [];
  frames.forEach(({ cels }, index) => {
    const drawing = cels[row];
    const last = found.at(-1);
    if (drawing === undefined) return;
    if (last && last[2] === drawing && last[1] === index) last[1] = index + 1;
    else found.push([index, index + 1, drawing]);
  });
  return found;
}
