import { $, oneAtATime, share } from "./parts.js";

/**
 * The picture pixel for pixel: a window onto it that a drag, or keys, move.
 *
 * `address` gives the place of a window from the picture's own; `size` the picture's full size.
 */
export function loupe({ address, size }) {
  let zoom = 0; // device pixels for a pixel of the picture; 0 shows all of it
  let middle = [0.5, 0.5];
  let seen = null; // what the window shows: left, top, width, height in pixels
  let from = null;

  function wanted() {
    const [width, height] = size();
    const box = $("picture").getBoundingClientRect();
    const dots = devicePixelRatio / zoom;
    const w = Math.max(1, Math.min(Math.round(box.width * dots), width, 4096));
    const h = Math.max(1, Math.min(Math.round(box.height * dots), height, 4096));
    const corner = (at, full, part) => Math.round(Math.min(Math.max(at * full - part / 2, 0), full - part));
    return [corner(middle[0], width, w), corner(middle[1], height, h), w, h];
  }

  const show = oneAtATime(async () => {
    $("window").toggleAttribute("hidden", !zoom);
    $("picture").classList.toggle("closely", zoom > 0);
    if (!zoom || !size()) return;
    const part = wanted();
    const image = new Image();
    image.id = "window";
    image.alt = "";
    image.draggable = false;
    image.src = address(part);
    await image.decode().catch(() => image.removeAttribute("src"));
    if (!zoom) return;
    const scale = zoom / devicePixelRatio;
    image.style.width = `${part[2] * scale}px`;
    image.style.height = `${part[3] * scale}px`;
    image.dataset.part = part.join(" ");
    seen = part;
    $("window").replaceWith(image);
  });

  function move(x, y) {
    const [width, height] = size();
    const scale = devicePixelRatio / zoom;
    middle = [share(middle[0] - (x * scale) / width), share(middle[1] - (y * scale) / height)];
    show();
  }

  $("picture").addEventListener("pointerdown", (event) => {
    if (!zoom || event.button) return;
    from = [event.clientX, event.clientY];
    $("picture").setPointerCapture(event.pointerId);
  });
  $("picture").addEventListener("pointermove", (event) => {
    if (!from) return;
    move(event.clientX - from[0], event.clientY - from[1]);
    from = [event.clientX, event.clientY];
  });
  for (const end of ["pointerup", "pointercancel"]) {
    $("picture").addEventListener(end, () => {
      from = null;
    });
  }
  new ResizeObserver(() => show()).observe($("picture"));

  return {
    get active() {
      return zoom > 0;
    },
    show,
    /** See so many device pixels for one, about a place; all of it at 0. */
    set(next, place) {
      zoom = next;
      if (place) middle = place;
      show();
    },
    /** Move by a part of what is seen. */
    pan(x, y) {
      const box = $("picture").getBoundingClientRect();
      move(-x * box.width, -y * box.height);
    },
    /** The place of the picture under a point of the screen. */
    under(x, y) {
      const box = $("window").getBoundingClientRect();
      const [width, height] = size();
      const [left, top, w, h] = seen;
      return [
        share((left + ((x - box.left) / box.width) * w) / width),
        share((top + ((y - box.top) / box.height) * h) / height),
      ];
    },
  };
}
