// Asks a person something, and gives the answer; null where they went back.

export const byId = (id) => document.getElementById(id);

export function asked(id) {
  const dialog = byId(id);
  const before = document.activeElement;
  return new Promise((done) => {
    dialog.returnValue = "";
    dialog.addEventListener("close", () => {
      if (before && before.isConnected) before.focus({ preventScroll: true });
      done(dialog.returnValue === "yes");
    }, { once: true });
    dialog.showModal();
  });
}

// Enter on a list means yes, as it does in a line of text; the list itself opens with Space or the arrows.
document.addEventListener("keydown", (event) => {
  const dialog = event.target.closest("dialog[open]");
  if (event.key !== "Enter" || event.target.tagName !== "SELECT" || !dialog) return;
  event.preventDefault();
  dialog.querySelector('button[value="yes"]').click();
});

export function fill(select, pairs, chosen) {
  select.replaceChildren(...pairs.map(([value, text]) => new Option(text, value, false, value === chosen)));
}

export function tag(name, text, more = {}) {
  const made = document.createElement(name);
  if (text !== undefined && text !== null) made.textContent = text;
  return Object.assign(made, more);
}

export async function askReason() {
  byId("reason").value = "";
  return (await asked("ask-reason")) ? byId("reason").value.trim() : null;
}

export async function askDepartment(words, chosen) {
  fill(byId("department"), Object.entries(words.departments), chosen);
  return (await asked("ask-department")) ? byId("department").value : null;
}

export async function askLesson(faults) {
  byId("alike").replaceChildren(...faults.map((fault) => tag("li", `${fault.where}, ${fault.frames_words}`)));
  return asked("ask-lesson");
}

export async function askFault(words, cels) {
  fill(byId("fault-cel"), cels.map(([name], place) => [String(place), name]), String(cels.length - 1));
  fill(byId("fault-kind"), words.by_hand.map((kind) => [kind, words.kinds[kind].title]), "unpainted");
  fill(byId("fault-to"), Object.entries(words.departments), "paint");
  byId("fault-text").value = "";
  if (!(await asked("ask-fault"))) return null;
  return {
    cel: cels[Number(byId("fault-cel").value)],
    kind: byId("fault-kind").value,
    send_to: byId("fault-to").value,
    text: byId("fault-text").value,
  };
}
