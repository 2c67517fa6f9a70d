export const $ = (id) => document.getElementById(id);

export const share = (value) => Math.min(Math.max(value, 0), 1);

/** Run work again and again while it is called for, never twice at once. */
export function oneAtATime(work) {
  let running = false;
  let again = false;
  return async () => {
    again = true;
    if (running) return;
    running = true;
    while (again) {
      again = false;
      await work();
    }
    running = false;
  };
}

export async function json(url) {
  const answer = await fetch(url);
  const said = answer.headers.get("Content-Type") === "application/json";
  const value = said ? await answer.json() : {};
  if (!answer.ok) throw Object.assign(new Error(value.error ?? ""), { gone: answer.status === 404 });
  return value;
}

export function showFigures(figures) {
  [...$("spread").tBodies[0].rows].forEach((row, i) => {
    const channel = figures.channels[i];
    row.cells[1].textContent = channel.black;
    row.cells[3].textContent = channel.white;
    const bars = channel.bars.map((bar) => `V${(24 - 23 * Math.min(bar, 1)).toFixed(1)}h1`);
    row.querySelector(".bars").setAttribute("d", `M0 24${bars.join("")}V24Z`);
  });
  $("outside").textContent = figures.outside;
  $("light").textContent = figures.light;
  $("warnings").replaceChildren(...figures.warnings.map((text) => element("li", text)));
}

export function problemItem(line) {
  const match = line.match(/^(.*?:\d+:\d+): (.*)$/);
  if (!match) return element("li", line);
  const item = document.createElement("li");
  item.append(element("b", match[1]), ` ${match[2]}`);
  return item;
}

/** A long name without its middle, so that how it begins and how it ends can be read. */
export function shortened(name, most = 30) {
  return name.length > most ? `${name.slice(0, most - 13)}…${name.slice(-12)}` : name;
}

export function element(name, text) {
  const made = document.createElement(name);
  made.textContent = text;
  return made;
}
