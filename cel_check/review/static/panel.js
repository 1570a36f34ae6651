// The right side: faults, the one at hand, the cel, what lies under the pipette, lessons and agreement.

import { byId, tag } from "/static/dialogs.js";

const SVG = "http://www.w3.org/2000/svg";

export class Panel {
  constructor(state, choose) {
    this.state = state;
    this.choose = choose;
  }

  showScene() {
    const { scene } = this.state;
    byId("scene-state").replaceChildren(sign(scene.sign), passedWords(scene));
    this.showFaults();
  }

  showFaults() {
    const { faults } = this.state.scene;
    const waiting = faults.filter((fault) => !fault.decided && !fault.added_by).length;
    byId("tally").textContent = faults.length ? `${faults.length}, ${waiting} to decide` : "";
    byId("no-faults").hidden = faults.length > 0;
    byId("faults").hidden = !faults.length;
    byId("faults").replaceChildren(...faults.map((fault, place) => this.row(fault, place)));
  }

  row(fault, place) {
    const button = tag("button", null, { type: "button" });
    button.dataset.identity = fault.identity;
    const words = tag("span");
    words.append(
      tag("span", this.state.words.kinds[fault.kind].title),
      tag("br"),
      tag("span", `${fault.where}, ${fault.frames_words}`, { className: "soft" }),
    );
    const told = tag("span", fault.decided ? fault.decided.words : { query: "to decide", retake: "retake?" }[fault.verdict]);
    told.prepend(sign(fault.verdict), " ");
    button.append(this.badge(fault.kind, place + 1), words, told);
    button.addEventListener("click", () => this.choose(fault));
    const item = tag("li");
    item.append(button);
    return item;
  }

  badge(kind, number) {
    const svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("viewBox", "-1.5 -1.5 3 3");
    svg.setAttribute("class", "badge");
    svg.setAttribute("aria-hidden", "true");
    const shape = document.createElementNS(SVG, "polygon");
    shape.setAttribute("points", this.state.words.kinds[kind].shape);
    shape.setAttribute("fill", "currentColor");
    const text = document.createElementNS(SVG, "text");
    for (const [key, value] of Object.entries({
      class: "knock-text", x: 0, y: 0.06, "text-anchor": "middle", "dominant-baseline": "central",
      "font-size": number < 10 ? 1.05 : 0.86,
    })) text.setAttribute(key, value);
    text.textContent = String(number);
    svg.append(shape, text);
    return svg;
  }

  showFault() {
    const { fault, words } = this.state;
    byId("card").hidden = !fault;
    for (const button of byId("faults").querySelectorAll("button")) {
      const now = Boolean(fault) && button.dataset.identity === fault.identity;
      if (now) button.setAttribute("aria-current", "true");
      else button.removeAttribute("aria-current");
      if (now) button.scrollIntoView({ block: "nearest" });
    }
    if (!fault) return;
    const place = this.state.scene.faults.indexOf(fault) + 1;
    byId("card-title").textContent = `${place}. ${words.kinds[fault.kind].title}: ${fault.where}`;
    byId("card-text").textContent = fault.text;
    byId("card-facts").replaceChildren(...facts(fault, words));
    byId("card-decided").textContent = decidedWords(fault.decided);
    for (const id of ["pass", "no-fault"]) byId(id).disabled = !fault.can_wave;
  }

  showCel() {
    const { scene, frame } = this.state;
    const at = scene.frames[frame];
    const cels = at ? Object.entries(at.cels).reverse() : [];
    const told = cels.map(([level, drawing]) => {
      const cel = scene.levels[level].drawings[drawing];
      const passed = cel.passed ? `, passed by ${cel.passed.who}` : "";
      const now = Number(level) === this.state.level ? " (at hand)" : "";
      return `${scene.levels[level].name} ${cel.drawing}${now}${passed}`;
    });
    byId("cel-words").textContent = told.join(" · ") || "no cel on this frame";
  }

  showUnder(at, cels) {
    byId("under").hidden = !at;
    if (!at) return;
    byId("under-at").textContent = `x ${at[0]}, y ${at[1]}${cels.length ? "" : ": background, or clear"}`;
    byId("under-cels").replaceChildren(...cels.map(underTable));
  }

  showLessons(told, unlearn) {
    const rows = told.lessons.map((lesson) => {
      const item = tag("li", `${lesson.scene}: ${lesson.says} ${lesson.who}, ${lesson.at}. `);
      if (lesson.revoked) item.append(tag("b", "taken back"));
      else item.append(tag("button", "Take back", { type: "button", onclick: () => unlearn(lesson.id) }));
      return item;
    });
    byId("lesson-list").replaceChildren(...(rows.length ? rows : [tag("li", "Nothing yet.")]));
    byId("agreement").tBodies[0].replaceChildren(...told.agreement.map(agreementRow));
  }
}

export function sign(verdict) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", `sign ink-${verdict}`);
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS(SVG, "use");
  use.setAttribute("href", `#sign-${verdict}`);
  svg.append(use);
  return svg;
}

function passedWords(scene) {
  return scene.passed ? `${scene.state}, by ${scene.passed.who} on ${scene.passed.at}` : scene.state;
}

export function decidedWords(decided) {
  if (!decided) return "";
  const lesson = decided.lesson ? `, lesson ${decided.lesson}` : "";
  const reason = decided.reason ? `: ${decided.reason}` : "";
  return `${decided.words}, by ${decided.who} on ${decided.at}${lesson}${reason}`;
}

function facts(fault, words) {
  const found = [];
  const color = (name, srgb) => {
    const chip = tag("span", "", { className: "chip" });
    chip.style.background = srgb;
    found.push(chip, `${name} ${srgb} `);
  };
  if (fault.found) color("found", fault.found);
  if (fault.srgb) color(fault.paint || "model", fault.srgb);
  const by = fault.added_by ? ` Drawn by ${fault.added_by}.` : ` ${fault.sure}; ${fault.seen}.`;
  found.push(`${fault.frames_words}. Goes to: ${words.departments[fault.send_to]}.${by}`);
  return found;
}

function underTable(cel) {
  const box = tag("div", null, { className: "scroll" });
  const chip = tag("span", "", { className: "chip" });
  chip.style.background = cel.srgb;
  const clear = cel.alpha < 255 ? `, alpha ${cel.alpha} of 255` : "";
  const head = tag("p", `Level ${cel.level}: ${cel.srgb}, L* ${cel.lab[0]}, a* ${cel.lab[1]}, b* ${cel.lab[2]}${clear}`);
  head.prepend(chip);
  const table = tag("table");
  const names = tag("tr");
  for (const name of ["Paint", "ΔE00", "Allowed"]) names.append(tag("th", name, { scope: "col" }));
  table.createTHead().append(names);
  const body = table.createTBody();
  for (const paint of cel.paints) {
    const row = body.insertRow();
    const swatch = tag("span", "", { className: "chip" });
    swatch.style.background = paint.srgb;
    row.insertCell().append(swatch, paint.name);
    row.insertCell().textContent = paint.delta_e.toFixed(2);
    row.insertCell().textContent = `${paint.tolerance}${paint.within ? ", within" : ""}`;
  }
  box.append(head, table);
  return box;
}

function agreementRow(row) {
  const made = document.createElement("tr");
  const share = row.agreement === null ? "none yet" : `${Math.round(row.agreement * 100)} %`;
  made.append(tag("th", row.title, { scope: "row" }));
  for (const value of [row.shown, row.agreed, row.passed, row["not-a-fault"], row.open, row["by-hand"], share]) {
    made.append(tag("td", String(value)));
  }
  return made;
}
