/* Search while typing: the page's own answers, asked for again; arrows go through them. Works without it. */
"use strict";

(function () {
  const form = document.querySelector("form[data-search]");
  const box = form.querySelector("input[type=search]");
  const place = document.getElementById("answers");
  let waiting = 0;
  let latest = 0;

  async function ask() {
    const asked = ++latest;
    const words = new URLSearchParams({ q: box.value });
    history.replaceState(null, "", "?" + words);
    const answer = await fetch(location.pathname + "?" + words + "&part=answers", { credentials: "same-origin" });
    // a newer question is on its way, or the session ended: this answer is none
    if (!answer.ok || answer.redirected || asked !== latest) return;
    place.innerHTML = await answer.text();
  }

  box.addEventListener("input", function () {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(ask, 200);
  });

  document.addEventListener("keydown", function (event) {
    const hits = [...place.querySelectorAll("[data-hit]")];
    const at = hits.indexOf(document.activeElement);
    const inside = at >= 0 || document.activeElement === box;
    if (event.key === "Escape" && at >= 0) box.focus();
    if (!inside || !hits.length || (event.key !== "ArrowDown" && event.key !== "ArrowUp")) return;
    event.preventDefault();
    const next = at + (event.key === "ArrowDown" ? 1 : -1);
    if (next < 0) box.focus();
    else hits[Math.min(next, hits.length - 1)].focus();
  });
})();
