/* Follows an intake while it runs: the sentence, the bar, the state of each file. */
"use strict";

(function () {
  const EVERY_MS = 1000;
  const AFTER_A_FAULT_MS = 5000;

  function show(page, said) {
    page.querySelector("[data-words]").textContent = said.words;
    page.querySelector("[data-bar]").value = said.done;
    said.files.forEach(function (file) {
      const row = document.querySelector('tr[data-number="' + file.number + '"]');
      if (!row) return; // on another page of the list
      const cell = row.lastElementChild;
      if (cell.textContent === file.word) return;
      cell.className = file.look;
      cell.replaceChildren(file.test ? linkTo(file.test, file.word) : file.word);
    });
    const refused = said.files.filter(function (file) {
      return file.mend;
    });
    if (refused.length) showRefused(refused);
    if (said.questions && !document.querySelector("#questions")) document.querySelector("[data-asked]").hidden = false;
  }

  function linkTo(address, words) {
    const link = document.createElement("a");
    link.href = address;
    link.textContent = words;
    return link;
  }

  function showRefused(files) {
    const place = document.querySelector("[data-refused]");
    place.hidden = false;
    place.querySelector("[data-refused-list]").replaceChildren(
      ...files.map(function (file) {
        const line = document.createElement("li");
        const why = document.createElement("span");
        why.className = "small";
        why.textContent = file.reason;
        line.append(linkTo(file.mend, file.name), document.createElement("br"), why);
        return line;
      })
    );
  }

  async function follow(page) {
    let known = "";
    for (;;) {
      let pause = EVERY_MS;
      try {
        const answer = await fetch(page.dataset.intakeState + "?known=" + known, { credentials: "same-origin" });
        if (!answer.ok || answer.redirected) throw new Error("The server answered " + answer.status);
        const said = await answer.json();
        show(page, said);
        known = String(said.done);
        if (said.state === "done") {
          page.querySelector("[data-while-running]").hidden = true;
          return;
        }
      } catch (error) {
        page.querySelector("[data-words]").textContent =
          "No connection at the moment. The work goes on at the server; this page asks again.";
        pause = AFTER_A_FAULT_MS;
      }
      await new Promise(function (resolve) {
        window.setTimeout(resolve, pause);
      });
    }
  }

  document.querySelectorAll("[data-intake-state]").forEach(follow);
})();
