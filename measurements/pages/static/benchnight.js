/* Benchnight's own script: charts in place of pictures, files by dropping them, designs while typing. Every page works without it. */
"use strict";

(function () {
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function tone() {
    const look = document.documentElement.dataset.look;
    return look === "dark" || (look !== "light" && dark.matches) ? "dark" : "light";
  }

  function withTone(address) {
    return address + (address.includes("?") ? "&" : "?") + "tone=" + tone();
  }

  let engine = null;

  function loadEngine(address) {
    engine = engine || new Promise(function (resolve, reject) {
      const script = document.createElement("script");
      script.src = address;
      script.onload = resolve;
      script.onerror = () => reject(new Error("The chart engine did not load"));
      document.head.append(script);
    });
    return engine;
  }

  // beside the picture, which stays until the chart is whole: nothing moves, and a fault leaves the picture
  async function draw(place) {
    const live = document.createElement("div");
    live.className = "chart-live";
    const answers = await Promise.all([
      fetch(withTone(place.dataset.specUrl), { credentials: "same-origin" }),
      loadEngine(place.dataset.engine),
    ]);
    if (!answers[0].ok) throw new Error("The chart answered " + answers[0].status);
    const spec = await answers[0].json();
    place.append(live);
    try {
      // ast: expressions are interpreted, not compiled, so that no page needs eval
      await window.vegaEmbed(live, spec, {
        mode: "vega-lite",
        renderer: "svg",
        actions: false,
        ast: true,
        defaultStyle: false,
        tooltip: { disableDefaultStyle: true },
      });
    } catch (error) {
      live.remove();
      throw error;
    }
    // the place is the one picture to whoever does not see it, not a thousand labelled marks
    ["role", "aria-label", "aria-roledescription"].forEach((name) => live.removeAttribute(name));
    place.replaceChildren(live);
    place.classList.add("is-live");
  }

  // a picture until somebody touches it, points at it or comes to it by keyboard
  function wakeChart(place) {
    place.setAttribute("role", "img");
    place.setAttribute("aria-label", place.dataset.words + " Its figures stand in the table on this page.");
    place.tabIndex = 0;
    const wake = function () {
      names.forEach((name) => place.removeEventListener(name, wake));
      draw(place);
    };
    const names = ["pointerenter", "touchstart", "focus"];
    names.forEach((name) => place.addEventListener(name, wake, { passive: true }));
  }

  function drawAgain() {
    document.querySelectorAll(".chart-place.is-live").forEach(draw);
  }

  function acceptDrops(zone) {
    const input = zone.querySelector("input[type=file]");
    ["dragenter", "dragover"].forEach(function (name) {
      zone.addEventListener(name, function (event) {
        event.preventDefault();
        zone.classList.add("is-over");
      });
    });
    ["dragleave", "drop"].forEach(function (name) {
      zone.addEventListener(name, function () {
        zone.classList.remove("is-over");
      });
    });
    zone.addEventListener("drop", function (event) {
      event.preventDefault();
      if (event.dataTransfer.files.length === 1) {
        input.files = event.dataTransfer.files;
      }
    });
  }

  function followBands(form) {
    form.addEventListener("change", function (event) {
      if (event.target.name !== "band") return;
      form.querySelectorAll("[data-band]").forEach(function (block) {
        const box = form.querySelector('input[name="band"][value="' + block.dataset.band + '"]');
        block.classList.toggle("on", Boolean(box && box.checked));
      });
    });
  }

  function followDevice(form) {
    const chosen = form.querySelector("select[name=device]");
    const sheet = form.querySelector("[data-new-device]");
    if (!chosen || !sheet) return;
    const follow = function () {
      sheet.hidden = chosen.value !== "new";
    };
    chosen.addEventListener("change", follow);
    follow();
  }

  function suggestDesigns(form) {
    const place = form.querySelector("[data-matches]");
    if (!place) return;
    const recipe = place.closest("[data-recipe]");
    let waiting = 0;
    let latest = 0;
    const ask = async function () {
      const asked = ++latest;
      const words = new URLSearchParams();
      recipe.querySelectorAll("input, select").forEach(function (field) {
        if (field.type === "checkbox" ? field.checked : field.value) words.append(field.name, field.value);
      });
      const answer = await fetch(place.dataset.matches + "?" + words, { credentials: "same-origin" });
      // signed out meanwhile, or a newer question is on its way: this answer is none
      if (!answer.ok || answer.redirected || asked !== latest) return;
      place.innerHTML = await answer.text();
    };
    const follow = function () {
      window.clearTimeout(waiting);
      waiting = window.setTimeout(ask, 300);
    };
    recipe.addEventListener("input", follow);
    recipe.addEventListener("change", follow);
    follow();
  }

  // a form that comes back: what has to be mended is read first, and each line leads to its field
  const summary = document.querySelector("[data-summary]");
  if (summary) {
    summary.focus();
    // an address with a place in it lets go of the focus once the page is there
    if (location.hash) window.addEventListener("load", () => summary.focus());
  }

  document.querySelectorAll("[data-spec-url]").forEach(wakeChart);
  dark.addEventListener("change", drawAgain);
  document.querySelectorAll("[data-drop]").forEach(acceptDrops);
  document.querySelectorAll("form[data-find]").forEach(followBands);
  document.querySelectorAll("form[data-upload]").forEach(followDevice);
  document.querySelectorAll("form[data-upload]").forEach(suggestDesigns);
})();
