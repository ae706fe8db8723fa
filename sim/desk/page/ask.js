// One request to the desk: lines of JSON, of which the last is the answer. The address of the page holds the token.

export class Refused extends Error {
  // faults: [{key, message}] where keys of the case are wrong; gone: the desk does not answer, or not to this page
  constructor(message, faults = [], gone = "") {
    super(message);
    this.faults = faults;
    this.gone = gone;
  }
}

export async function ask(what, body, { tell = () => {}, signal } = {}) {
  let reply;
  try {
    reply = await fetch(`ask/${what}`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
      signal,
    });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused("the desk does not answer", [], "silent");
  }
  if (reply.status === 403) throw new Refused("the desk was started anew", [], "anew");
  if (!reply.ok) throw new Refused(await reply.text());
  const reader = reply.body.getReader();
  const words = new TextDecoder();
  let rest = "";
  for (;;) {
    let part;
    try {
      part = await reader.read();
    } catch (error) {
      if (error.name === "AbortError") throw error;
      throw new Refused("the desk does not answer", [], "silent");
    }
    rest += words.decode(part.value ?? new Uint8Array(), { stream: !part.done });
    const lines = rest.split("\n");
    rest = lines.pop();
    for (const text of lines) {
      const line = JSON.parse(text);
      if (line.done) return line.done;
      if (line.faults) throw new Refused(line.faults[0].message, line.faults);
      if (line.failed) throw new Refused(line.failed);
      if (line.stopped) throw new DOMException("stopped", "AbortError");
      tell(line);
    }
    if (part.done) throw new Refused("the desk does not answer", [], "silent");
  }
}

function bytes(text) {
  const plain = atob(text);
  const out = new Uint8Array(plain.length);
  for (let i = 0; i < out.length; i++) out[i] = plain.charCodeAt(i);
  return out.buffer;
}

export const numbers = (text) => new Float32Array(bytes(text));
export const counts = (text) => new Uint32Array(bytes(text));
