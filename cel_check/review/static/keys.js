// Keys: what each does, in one table, from which the list on the page is made.

export const KEYS = [
  ["ArrowRight", "→", "next frame", "frameOn"],
  ["ArrowLeft", "←", "frame before", "frameBack"],
  ["Shift+ArrowRight", "⇧ →", "next drawing, of the level at hand", "drawingOn"],
  ["Shift+ArrowLeft", "⇧ ←", "drawing before, of the level at hand", "drawingBack"],
  ["Home", "Home", "first frame", "first"],
  ["End", "End", "last frame", "last"],
  [" ", "Space", "play, stop", "play"],
  ["ArrowDown", "↓", "next fault", "faultOn"],
  ["ArrowUp", "↑", "fault before", "faultBack"],
  ["n", "N", "next fault to decide", "nextWaiting"],
  ["r", "R", "retake, to its department", "agree"],
  ["R", "⇧ R", "retake, to another department", "agreeTo"],
  ["p", "P", "pass, with a reason", "passFault"],
  ["x", "X", "not a fault", "noFault"],
  ["u", "U", "undo", "undo"],
  ["c", "C", "pass the cel at hand", "passCel"],
  ["s", "S", "pass the scene", "passScene"],
  ["a", "A", "add a fault: draw a box", "add"],
  ["v", "V", "another level at hand", "nextLevel"],
  ["b", "B", "background on, off", "background"],
  ["o", "O", "last and next drawing over the picture", "overlay"],
  ["t", "T", "field, safe for action and titles", "safe"],
  ["h", "H", "mark this frame to flip with", "hold"],
  ["f", "F", "flip with the marked frame", "flip"],
  ["+", "+", "larger, down to single pixels", "zoomIn"],
  ["-", "−", "smaller", "zoomOut"],
  ["0", "0", "fit the window", "fit"],
  ["i", "I", "pipette", "pipette"],
  ["[", "[", "scene before", "sceneBack"],
  ["]", "]", "scene after", "sceneOn"],
  ["l", "L", "lessons and agreement", "lessons"],
  ["?", "?", "these keys", "keys"],
  ["Escape", "Esc", "stop; leave box or pipette", "leave"],
];
export const MORE = [
  ["1 to 9", "level on, off, from the bottom"],
  ["← ↑ → ↓", "move the box or the pipette (⇧: size of the box; ten pixels)"],
  ["Enter", "name the fault in the box"],
];

const WRITES = new Set(["text", "password", "search", ""]);

function isWriting(target) {
  if (target.tagName === "SELECT" || target.tagName === "TEXTAREA") return true;
  return target.tagName === "INPUT" && WRITES.has(target.getAttribute("type") || "");
}

export function nameOf(event) {
  const shifted = event.shiftKey && event.key.startsWith("Arrow");
  return shifted ? `Shift+${event.key}` : event.key;
}

export function listen(act, singleKeys) {
  const deeds = new Map(KEYS.map(([key, , , deed]) => [key, deed]));
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
    if (isWriting(event.target) && event.key !== "Escape") return;
    const single = event.key.length === 1 && event.key !== " ";
    if (single && !singleKeys()) return;
    if (event.key === " " && event.target.tagName === "BUTTON") return; // presses that button
    if (event.target.type === "range" && event.key.startsWith("Arrow")) return;
    const key = nameOf(event);
    const deed = /^[1-9]$/.test(key) ? "level" : deeds.get(key) || deeds.get(key.toLowerCase());
    if (act(deed, key, event)) event.preventDefault();
  });
}
