"use strict";
const $ = (id) => document.getElementById(id);
const entries = [...document.querySelectorAll("[data-mark]")];
const looks = Math.max(1, document.querySelectorAll("thead th").length - 1);
let opened = null; // the link whose picture is shown large

/** Links of the frames that are not filtered out, look by look, frame by frame. */
const links = () => entries.filter((e) => !e.hidden).flatMap((e) => [...e.querySelectorAll("a.mount")]);

function show(link) {
  const small = link.querySelector("img");
  opened = link;
  $("large-name").textContent = $("view").alt = small.alt;
  $("large-trouble").textContent = "";
  $("view").width = small.width;
  $("view").src = link.href;
  $("view").style.setProperty("--ratio", small.naturalWidth / small.naturalHeight || 1.5);
  if (!$("large").open) $("large").showModal();
}

/** To another picture, as many links on; there is nothing beyond the first and the last. */
function step(by) {
  const all = links();
  const next = all[all.indexOf(opened) + by];
  if (next) show(next);
}

function filter() {
  const wanted = new Set([...$("marks").querySelectorAll(":checked")].map((box) => box.value));
  for (const entry of entries) entry.hidden = !wanted.has(entry.dataset.mark);
  const shown = entries.filter((entry) => !entry.hidden).length;
  $("count").textContent = `${shown} of ${entries.length} frames`;
}

const keys = {
  ArrowLeft: () => step(-1),
  ArrowRight: () => step(1),
  ArrowUp: () => step(-looks),
  ArrowDown: () => step(looks),
};

document.addEventListener("click", (event) => {
  const link = event.target.closest("a.mount");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  show(link);
});
$("large").addEventListener("keydown", (event) => {
  if (!keys[event.key]) return;
  event.preventDefault();
  keys[event.key]();
});
$("large").addEventListener("click", (event) => {
  if (event.target === $("large")) $("large").close();
});
$("large").addEventListener("close", () => {
  opened.focus();
  opened.scrollIntoView({ block: "nearest" });
});
$("view").addEventListener("error", () => {
  const small = opened.querySelector("img").src;
  if ($("view").src === small) return;
  $("view").src = small;
  $("large-trouble").textContent = "The larger view is not beside this page.";
});
$("earlier").addEventListener("click", () => step(-1));
$("later").addEventListener("click", () => step(1));
$("close").addEventListener("click", () => $("large").close());
$("marks")?.addEventListener("change", filter);
