// Asks the desk's server. Every decision bears the token that the page was handed.

const token = document.querySelector('meta[name="desk-token"]').content;

export class Refused extends Error {
  constructor(status, message) {
    super(message);
    this.status = status;
  }
}

async function answer(response) {
  const isJson = (response.headers.get("content-type") || "").startsWith("application/json");
  const told = isJson ? await response.json() : { error: await response.text() };
  if (!response.ok) throw new Refused(response.status, told.error);
  return told;
}

export async function ask(path) {
  return answer(await fetch(path, { credentials: "same-origin" }));
}

export async function send(path, body) {
  return answer(await fetch(path, {
    method: "POST",
    credentials: "same-origin",
    headers: { "content-type": "application/json", "x-desk-token": token },
    body: JSON.stringify(body),
  }));
}

// Decoded pictures, the longest unused first: a step back or forth costs no request.
const MOST = 60;
const held = new Map();

export function picture(path) {
  if (held.has(path)) {
    const found = held.get(path);
    held.delete(path);
    held.set(path, found);
    return found;
  }
  const coming = fetch(path, { credentials: "same-origin" })
    .then(async (response) => {
      if (!response.ok) throw new Refused(response.status, (await response.json()).error);
      return createImageBitmap(await response.blob());
    });
  coming.catch(() => held.delete(path));
  held.set(path, coming);
  while (held.size > MOST) {
    const [oldest, gone] = held.entries().next().value;
    held.delete(oldest);
    gone.then((bitmap) => bitmap.close(), () => {});
  }
  return coming;
}

export function forgetPictures() {
  held.clear();
}
