// The desk: what is shown, what a person does, and what becomes of it.

import { ask, send, forgetPictures } from "/static/server.js";
import { Stage } from "/static/stage.js";
import { Player } from "/static/player.js";
import { Sheet } from "/static/sheet.js";
import { Panel } from "/static/panel.js";
import { KEYS, MORE, listen } from "/static/keys.js";
import { asked, askDepartment, askFault, askLesson, askReason, byId, tag } from "/static/dialogs.js";

const say = (text) => { byId("say").textContent = text; };

const state = {
  n: 0, scene: null, words: null, frame: 0, fault: null, level: 0, mask: 1, version: 0,
  overlay: false, safe: false, flipped: false, held: 0, cross: null, box: null,
  shows(level) { return Boolean(this.mask & (2 << level)); },
  // A cel of another size lies with its center on the frame's, and its faults with it.
  placed({ box, level, drawing }) {
    if (!box || level === null) return box;
    const [across, down] = this.scene.levels[level].drawings[drawing].offset;
    return [box[0] + across, box[1] + down, box[2], box[3]];
  },
  // The drawings before and after the one at hand, on its level.
  nextDrawings() {
    const at = this.scene.frames[this.frame].cels[this.level];
    if (at === undefined) return [];
    const found = [];
    for (const [step, side] of [[-1, "last"], [1, "next"]]) {
      const other = this.turn(step);
      if (other !== null) found.push({ level: this.level, drawing: this.scene.frames[other].cels[this.level], side });
    }
    return found;
  },
  // The nearest frame, in one direction, on which the level at hand shows another drawing.
  turn(step) {
    const { frames } = this.scene;
    const now = frames[this.frame].cels[this.level];
    for (let place = this.frame + step; place >= 0 && place < frames.length; place += step) {
      const there = frames[place].cels[this.level];
      if (there !== now && there !== undefined) return place;
    }
    return null;
  },
};

const stage = new Stage(byId("stage"), state);
const sheet = new Sheet(byId("sheet"), state);
const panel = new Panel(state, (fault) => goTo(fault));
const player = new Player(stage, state, (frame) => show(frame));
let scenes = [];

async function told(work) {
  try {
    return await work();
  } catch (problem) {
    if (problem.status === 409) await refresh();
    say(problem.message);
    return null;
  }
}

// One deed at a time: a key that comes while the last one is being kept was pressed for what is not there yet.
let busy = false;
async function guarded(work) {
  if (busy) return say("One moment: the last decision is still being kept.");
  busy = true;
  try {
    return await told(work);
  } finally {
    busy = false;
  }
}

function show(frame) {
  state.frame = Math.max(0, Math.min(state.scene.frames.length - 1, frame));
  byId("slider").value = String(state.frame);
  const at = state.scene.frames[state.frame];
  if (at) {
    const cels = Object.entries(at.cels).map(([level, drawing]) =>
      `${state.scene.levels[level].name} ${state.scene.levels[level].drawings[drawing].drawing}`);
    const missing = at.missing.length ? `; missing: ${at.missing.join(", ")}` : "";
    byId("frame-words").textContent = `frame ${at.frame} of ${state.scene.frames.length}: ${cels.join(", ")}${missing}`;
  }
  sheet.move();
  panel.showCel();
  const drawn = stage.draw();
  if (!player.playing) drawn.then(() => stage.ahead(6));
  if (state.cross) look();
}

function goTo(fault) {
  state.fault = fault;
  panel.showFault();
  if (!fault) return stage.draw();
  if (fault.level !== null) state.level = fault.level;
  if (fault.box) stage.follow(stage.aim());
  const shown = fault.frames.includes(state.frame) ? state.frame : fault.frames[0];
  return show(shown === undefined ? state.frame : shown);
}

function take(scene) {
  const before = state.fault && state.fault.identity;
  state.scene = scene;
  state.fault = scene.faults.find((fault) => fault.identity === before) || null;
  panel.showScene();
  panel.showFault();
  panel.showCel();
  sheet.build();
  stage.draw();
}

async function refresh() {
  take(await ask(`/api/scene/${state.n}`));
  await listScenes();
}

async function listScenes() {
  const answer = await ask("/api/episode");
  scenes = answer.scenes;
  state.words = answer.words;
  byId("scenes").replaceChildren(...scenes.map((scene, place) => {
    const waiting = scene.waiting ? `, ${scene.waiting} to decide` : "";
    return new Option(`${scene.number}: ${scene.state}${waiting}`, String(place), false, place === state.n);
  }));
}

async function open(n) {
  player.stop();
  state.n = Math.max(0, Math.min(scenes.length - 1, n));
  byId("scenes").value = String(state.n);
  history.replaceState(null, "", `#scene-${state.n}`);
  forgetPictures();
  state.version += 1;
  const scene = await ask(`/api/scene/${state.n}`);
  Object.assign(state, { scene, frame: 0, fault: null, level: 0, held: 0, flipped: false, box: null, cross: null });
  state.mask = (2 << scene.levels.length) - 1;
  byId("slider").max = String(Math.max(0, scene.frames.length - 1));
  showLevels();
  pressed();
  take(scene);
  goTo(scene.faults.find((fault) => !fault.decided) || scene.faults[0] || null);
  if (!state.fault) show(0);
  document.documentElement.dataset.ready = String(state.n);
}

function showLevels() {
  const names = ["background", ...state.scene.levels.map((level) => level.name)];
  const boxes = names.map((name, bit) => {
    const label = tag("label");
    const box = tag("input", null, { type: "checkbox", checked: Boolean(state.mask & (1 << bit)) });
    box.addEventListener("change", () => toggle(bit));
    label.append(box, ` ${name}`);
    return label;
  });
  byId("levels").replaceChildren(tag("legend", "Levels"), ...boxes);
}

function toggle(bit) {
  state.mask ^= 1 << bit;
  byId("levels").querySelectorAll("input")[bit].checked = Boolean(state.mask & (1 << bit));
  stage.draw();
}

function pressed() {
  const on = { overlay: state.overlay, safe: state.safe, flip: state.flipped, pipette: Boolean(state.cross), play: player.playing };
  for (const [id, value] of Object.entries(on)) byId(id).setAttribute("aria-pressed", String(value));
  byId("zoom").textContent = stage.zoom ? `${stage.zoom * 100} %` : "fit";
  byId("stage").classList.toggle("aims", Boolean(state.cross || state.box));
}

const who = () => byId("who").value.trim() || "unnamed";

// ---- deciding

async function decide(deed, more = {}) {
  const { fault } = state;
  if (!fault) return say("Choose a fault first.");
  const seen = fault.decided ? fault.decided.id : 0;
  const body = { who: who(), fault: fault.identity, deed, seen, sha256: fault.sha256, ...more };
  const answer = await send(`/api/scene/${state.n}/decide`, body);
  take(answer.scene);
  const taught = answer.alike.length ? await offer(fault.identity, answer.alike) : "";
  await listScenes();
  const rest = nextWaiting() ? "" : " Every fault of this scene is decided.";
  return say(`Kept: ${state.words.deeds[deed]}, ${fault.where}${taught}. Undo with U.${rest}`);
}

async function offer(identity, alike) {
  const others = state.scene.faults.filter((fault) => alike.includes(fault.identity));
  if (!(await askLesson(others))) return "";
  const answer = await send(`/api/scene/${state.n}/teach`, { who: who(), fault: identity, others: alike });
  take(answer.scene);
  return ` and on ${others.length} more, as lesson ${answer.lesson}`;
}

function nextWaiting() {
  const { faults } = state.scene;
  const from = faults.indexOf(state.fault) + 1;
  const next = [...faults.slice(from), ...faults.slice(0, from)].find((fault) => !fault.decided);
  if (next) goTo(next);
  else panel.showFault();
  return Boolean(next);
}

function stepFault(step) {
  const { faults } = state.scene;
  if (!faults.length) return;
  const place = state.fault ? faults.indexOf(state.fault) + step : 0;
  goTo(faults[(place + faults.length) % faults.length]);
}

function celAtHand() {
  const at = state.scene.frames[state.frame];
  const drawing = at && at.cels[state.level];
  return drawing === undefined ? null : { level: state.level, drawing, cel: state.scene.levels[state.level].drawings[drawing] };
}

const deeds = {
  agree: () => guarded(() => decide("retake")),
  agreeTo: () => guarded(async () => {
    if (!state.fault) return say("Choose a fault first.");
    const place = await askDepartment(state.words, state.fault.send_to);
    return place && decide("retake", { send_to: place });
  }),
  passFault: () => guarded(async () => {
    if (!state.fault) return say("Choose a fault first.");
    if (!state.fault.can_wave) return say("A picture that cannot be read cannot be passed.");
    const reason = await askReason();
    return reason && decide("pass", { reason });
  }),
  noFault: () => guarded(() => decide("not-a-fault")),
  undo: () => guarded(async () => {
    const answer = await send(`/api/scene/${state.n}/undo`, { who: who() });
    take(answer.scene);
    await listScenes();
    const back = state.scene.faults.find((fault) => fault.identity === answer.fault);
    if (back) goTo(back);
    say("Taken back.");
  }),
  passCel: () => guarded(async () => {
    const hand = celAtHand();
    if (!hand) return say("The level at hand shows no cel on this frame: choose another with V.");
    const { level, drawing, cel } = hand;
    const answer = await send(`/api/scene/${state.n}/pass-cel`, { who: who(), level, drawing, sha256: cel.sha256 || "" });
    take(answer.scene);
    return say(`Passed: ${state.scene.levels[level].name} ${cel.drawing}. Undo with U.`);
  }),
  passScene: () => guarded(async () => {
    const answer = await send(`/api/scene/${state.n}/pass`, { who: who(), content: state.scene.content });
    take(answer.scene);
    await listScenes();
    say(`Scene ${state.scene.number} is passed. Undo with U.`);
  }),
  lessons: () => told(async () => {
    const unlearn = (lesson) => guarded(async () => {
      await send("/api/unlearn", { who: who(), lesson });
      panel.showLessons(await ask("/api/lessons"), unlearn);
      await refresh();
    });
    panel.showLessons(await ask("/api/lessons"), unlearn);
    await asked("lessons");
  }),

  // ---- looking
  frameOn: () => show(state.frame + 1),
  frameBack: () => show(state.frame - 1),
  drawingOn: () => turn(1),
  drawingBack: () => turn(-1),
  first: () => show(0),
  last: () => show(state.scene.frames.length - 1),
  faultOn: () => stepFault(1),
  faultBack: () => stepFault(-1),
  nextWaiting: () => nextWaiting() || say("Every fault of this scene is decided."),
  async play() {
    if (player.playing) return player.stop();
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    if (state.scene.frames.length > 1 && (!calm || (await asked("ask-play")))) player.start().finally(pressed);
    return null;
  },
  nextLevel() {
    const { levels } = state.scene;
    if (!levels.length) return;
    state.level = (state.level + 1) % levels.length;
    say(`Level ${levels[state.level].name} is at hand.`);
    panel.showCel();
    stage.draw();
  },
  background: () => toggle(0),
  overlay() { state.overlay = !state.overlay; stage.draw(); },
  safe() { state.safe = !state.safe; stage.draw(); },
  hold() { state.held = state.frame; say(`Frame ${state.scene.frames[state.frame].frame} is marked to flip with.`); },
  flip() { state.flipped = !state.flipped; stage.draw(); },
  zoomIn: () => stage.zoomBy(1),
  zoomOut: () => stage.zoomBy(-1),
  fit: () => stage.fit(),
  pipette() {
    state.box = null;
    state.cross = state.cross ? null : stage.aim().map(Math.floor);
    if (state.cross) look();
    else panel.showUnder(null, []);
    stage.draw();
  },
  add() {
    state.cross = null;
    const [width, height] = stage.size;
    const [x, y] = stage.aim();
    const side = Math.max(8, Math.round(width / 12));
    state.box = [Math.max(0, Math.round(x - side / 2)), Math.max(0, Math.round(y - side / 2)), side, Math.min(side, height)];
    say("Move the box with the arrows, size it with Shift, or draw it. Enter names the fault, Escape leaves.");
    byId("stage").focus();
    stage.draw();
  },
  sceneOn: () => guarded(() => open(state.n + 1)),
  sceneBack: () => guarded(() => open(state.n - 1)),
  keys: () => asked("keys"),
  leave() {
    player.stop();
    Object.assign(state, { box: null, cross: null });
    panel.showUnder(null, []);
    stage.draw();
  },
};

function turn(step) {
  const place = state.turn(step);
  if (place === null) say("There is no other drawing that way on the level at hand.");
  else show(place);
}

// ---- pipette and box

let looking = 0;
async function look() {
  const ticket = (looking += 1);
  const [x, y] = state.cross;
  await told(async () => {
    const found = await ask(`/api/scene/${state.n}/under/${state.frame}/${state.mask}/${x}/${y}`);
    if (ticket === looking && state.cross) panel.showUnder([x, y], found.cels);
  });
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function aimBy(event) {
  const arrow = ARROWS[event.key];
  if (!arrow) return false;
  const [width, height] = stage.size;
  if (state.cross) {
    const step = event.shiftKey ? 10 : 1;
    state.cross = [
      Math.max(0, Math.min(width - 1, state.cross[0] + arrow[0] * step)),
      Math.max(0, Math.min(height - 1, state.cross[1] + arrow[1] * step)),
    ];
    stage.follow(state.cross);
    look();
  } else {
    const step = Math.max(1, Math.round(8 / stage.scale));
    const [x, y, w, h] = state.box;
    state.box = event.shiftKey
      ? [x, y, Math.max(1, Math.min(width - x, w + arrow[0] * step)), Math.max(1, Math.min(height - y, h + arrow[1] * step))]
      : [Math.max(0, Math.min(width - w, x + arrow[0] * step)), Math.max(0, Math.min(height - h, y + arrow[1] * step)), w, h];
  }
  stage.draw();
  return true;
}

async function nameFault() {
  const at = state.scene.frames[state.frame];
  const cels = Object.entries(at.cels)
    .map(([level, drawing]) => [`${state.scene.levels[level].name} ${state.scene.levels[level].drawings[drawing].drawing}`, Number(level), drawing]);
  const named = await askFault(state.words, cels);
  if (!named) return;
  const [, level, drawing] = named.cel;
  await guarded(async () => {
    const { offset } = state.scene.levels[level].drawings[drawing];
    const corner = [0, 1].map((axis) => Math.max(0, state.box[axis] - offset[axis]));
    const answer = await send(`/api/scene/${state.n}/add`, {
      who: who(), level, drawing, sha256: state.scene.levels[level].drawings[drawing].sha256 || "",
      kind: named.kind, send_to: named.send_to, box: [...corner, state.box[2], state.box[3]], text: named.text,
    });
    state.box = null;
    take(answer.scene);
    await listScenes();
    goTo(state.scene.faults.find((fault) => fault.identity === `by-hand-${answer.added}`) || null);
    say("Added: it goes on the slips like any other. Undo with U.");
  });
  pressed();
}

function onPointer() {
  let from = null;
  const root = byId("stage");
  root.addEventListener("pointerdown", (event) => {
    from = [event.clientX, event.clientY];
    root.setPointerCapture(event.pointerId);
    if (state.cross) { state.cross = stage.toPicture(event); look(); stage.draw(); }
    if (state.box) { state.start = stage.toPicture(event); state.box = [...state.start, 1, 1]; stage.draw(); }
  });
  root.addEventListener("pointermove", (event) => {
    if (!from) return;
    if (state.cross) { state.cross = stage.toPicture(event); look(); stage.draw(); }
    else if (state.box) { state.box = between(state.start, stage.toPicture(event)); stage.draw(); }
    else { stage.pan(event.clientX - from[0], event.clientY - from[1]); from = [event.clientX, event.clientY]; }
  });
  root.addEventListener("pointerup", () => {
    const drew = from && state.box && state.start;
    from = null;
    state.start = null;
    if (drew) nameFault();
  });
}

function between([x0, y0], [x1, y1]) {
  return [Math.min(x0, x1), Math.min(y0, y1), Math.abs(x1 - x0) + 1, Math.abs(y1 - y0) + 1];
}

// ---- start

const BUTTONS = {
  "drawing-back": "drawingBack", "frame-back": "frameBack", play: "play", "frame-on": "frameOn",
  "drawing-on": "drawingOn", "zoom-in": "zoomIn", "zoom-out": "zoomOut", fit: "fit", overlay: "overlay", safe: "safe",
  hold: "hold", flip: "flip", pipette: "pipette", agree: "agree", "agree-to": "agreeTo", pass: "passFault",
  "no-fault": "noFault", "pass-cel": "passCel", add: "add", undo: "undo", "pass-scene": "passScene",
  "open-lessons": "lessons", "open-keys": "keys",
};

function act(deed, key, event) {
  if (!state.scene) return false;
  if ((state.cross || state.box) && aimBy(event)) return true;
  if (state.box && key === "Enter") { nameFault(); return true; }
  if (deed === "level") {
    if (Number(key) <= state.scene.levels.length) toggle(Number(key));
    return true;
  }
  if (!deed) return false;
  if (player.playing && deed !== "play" && deed !== "leave") player.stop();
  deeds[deed]();
  pressed();
  return true;
}

async function start() {
  for (const [id, deed] of Object.entries(BUTTONS)) {
    byId(id).addEventListener("click", () => { if (state.scene) { deeds[deed](); pressed(); } });
  }
  byId("slider").addEventListener("input", (event) => show(Number(event.target.value)));
  byId("scenes").addEventListener("change", (event) => told(() => open(Number(event.target.value))));
  byId("who").value = sessionStorage.getItem("desk-who") || byId("who").value;
  byId("who").addEventListener("change", () => sessionStorage.setItem("desk-who", who()));
  const list = [...KEYS.map(([, shown, does]) => [shown, does]), ...MORE];
  byId("key-list").replaceChildren(...list.flatMap(([key, does]) => [tag("dt", key), tag("dd", does)]));
  listen(act, () => byId("single-keys").checked);
  onPointer();
  await told(async () => {
    await listScenes();
    const wanted = Number((location.hash.match(/^#scene-(\d+)$/) || [])[1]);
    const first = scenes.findIndex((scene) => scene.waiting > 0);
    await open(Number.isInteger(wanted) && wanted < scenes.length ? wanted : Math.max(0, first));
  });
}

start();
