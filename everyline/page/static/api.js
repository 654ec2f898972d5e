// The interface of the server. Every function here answers with what the server said, or throws an Error
// whose message is the server's own sentence.

async function read(answer) {
  if (answer.ok) return answer;
  let sentence = `the server answered ${answer.status}.`;
  try {
    sentence = (await answer.json()).error;
  } catch {
    // No JSON: the number must do.
  }
  throw Object.assign(new Error(sentence), { status: answer.status });
}

async function ask(address, options = {}) {
  let answer;
  try {
    answer = await fetch(address, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Error("the server does not answer; start it again with: everyline serve");
  }
  return read(answer);
}

export const get = async (address, signal) => (await ask(address, { signal })).json();
export const getBlob = async (address, signal) => (await ask(address, { signal })).blob();
export const getBytes = async (address) => (await ask(address)).arrayBuffer();
export const getText = async (address, signal) => (await ask(address, { signal })).text();

/** Have an answer made without fetching it whole. */
export const getHead = async (address) => {
  await ask(address, { headers: { range: "bytes=0-1" } });
};

const posted = (body, signal) => ({
  method: "POST",
  headers: { "content-type": "application/json" },
  body: JSON.stringify(body),
  signal,
});
export const post = async (address, body, signal) => (await ask(address, posted(body, signal))).json();
export const postForText = async (address, body) => (await ask(address, posted(body))).text();

/** A long answer, line by line: what is told on the way goes to ``tell``, the last line is the answer. */
export async function postForStream(address, body, signal, tell) {
  const answer = await ask(address, posted(body, signal));
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (;;) {
    const { value, done } = await reader.read();
    text += value ?? "";
    const lines = text.split("\n");
    text = lines.pop();
    for (const line of lines.filter(Boolean)) {
      const found = JSON.parse(line);
      if ("error" in found) throw new Error(found.error);
      if ("result" in found) return found.result;
      tell(found);
    }
    if (done) throw new Error("the server stopped in the middle of its answer; try again.");
  }
}

export const postFile = async (address, file, signal) =>
  (
    await ask(address, {
      method: "POST",
      headers: { "content-type": "application/octet-stream" },
      body: file,
      signal,
    })
  ).json();

/** A path and its query; lists are joined by commas. */
export function address(path, query = {}) {
  const pairs = Object.entries(query)
    .filter(([, value]) => value !== null && value !== undefined && !(Array.isArray(value) && !value.length))
    .map(([name, value]) => [name, Array.isArray(value) ? value.join(",") : String(value)]);
  const made = new URLSearchParams(pairs).toString();
  return made ? `${path}?${made}` : path;
}

/** Does something that needs the server to know the rules; where it has forgotten them, sends them again. */
export async function withRules(tables, id, act) {
  try {
    return await act(id);
  } catch (error) {
    if (error.status !== 404) throw error;
    const again = await post("/api/rules", { tables });
    return act(again.id);
  }
}
