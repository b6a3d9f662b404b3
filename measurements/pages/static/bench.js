/* The bench view: chosen files are read at once and kept, sent over a bad link until an answer comes, and the
   verdict is put in its place. Without this script the same form works as a plain one. */
"use strict";

(function () {
  const STALLED_AFTER_S = 40;

  function kilobytes(size) {
    return size < 1000 ? size + " bytes" : Math.round(size / 1000).toLocaleString("en") + " kB";
  }

  function keeper(form) {
    // the bytes as they were when chosen: a card pulled out of the reader does not take them along
    const kept = new Map();
    form.addEventListener("change", function (event) {
      const input = event.target;
      if (input.type !== "file") return;
      const file = input.files[0];
      if (!file) {
        kept.delete(input.name);
        return;
      }
      const reading = file.arrayBuffer().then(function (bytes) {
        return new File([bytes], file.name, { type: "application/octet-stream" });
      });
      reading.catch(function () {
        kept.delete(input.name); // it is sent as the browser has it
      });
      kept.set(input.name, reading);
    });
    return kept;
  }

  async function contentOf(form, kept) {
    const content = new FormData(form);
    for (const [name, reading] of kept) {
      content.set(name, await reading);
    }
    return content;
  }

  function clearFaults(form) {
    form.querySelectorAll("[data-fault], [data-summary]").forEach(function (each) {
      each.remove();
    });
    form.querySelectorAll("[aria-invalid]").forEach(function (input) {
      input.removeAttribute("aria-invalid");
      const words = (input.getAttribute("aria-describedby") || "").split(" ");
      const left = words.filter(function (id) {
        return document.getElementById(id);
      });
      if (left.length) input.setAttribute("aria-describedby", left.join(" "));
      else input.removeAttribute("aria-describedby");
    });
  }

  function markField(input, fault) {
    const line = document.createElement("p");
    line.className = "fault";
    line.dataset.fault = "";
    line.id = "fault_" + fault.field;
    line.textContent = fault.detail;
    const described = input.getAttribute("aria-describedby");
    input.setAttribute("aria-describedby", described ? described + " " + line.id : line.id);
    input.setAttribute("aria-invalid", "true");
    input.insertAdjacentElement("afterend", line);
  }

  function summaryLine(input, fault) {
    const line = document.createElement("li");
    if (input) {
      const link = document.createElement("a");
      link.href = "#" + input.id;
      link.textContent = input.labels[0].textContent.trim();
      line.append(link, ": ");
    }
    line.append(fault.detail);
    return line;
  }

  /* Each fault beside its field, and all of them on top as a list that leads there and has the focus. */
  function showFaults(form, faults) {
    clearFaults(form);
    const summary = document.createElement("div");
    summary.className = "fault-list";
    summary.dataset.summary = "";
    summary.tabIndex = -1;
    summary.setAttribute("role", "alert");
    const list = document.createElement("ul");
    faults.forEach(function (fault) {
      const found = fault.field ? form.elements.namedItem(fault.field) : null;
      const input = found instanceof HTMLElement && found.type !== "hidden" ? found : null;
      if (input) markField(input, fault);
      list.append(summaryLine(input, fault));
    });
    summary.append(list);
    form.prepend(summary);
    summary.focus();
  }

  function follow(form) {
    const kept = keeper(form);
    const say = form.querySelector("[data-say]");
    const again = form.querySelector("[data-again]");
    const button = form.querySelector("button[data-store]");
    const outcome = document.querySelector("[data-outcome]");
    let busy = false;
    const speak = function (words, look) {
      say.textContent = words;
      say.className = "bench-say " + (look || "");
    };
    window.addEventListener("beforeunload", function (event) {
      if (busy) event.preventDefault();
    });
    const progress = function (sent, total) {
      again.hidden = true;
      speak(
        sent < total
          ? "Sending: " + kilobytes(sent) + " of " + kilobytes(total) + "."
          : "Sent. The server is computing."
      );
    };
    const waiting = function (seconds, tries, tryNow) {
      speak(
        "The connection dropped. The file and all that you typed are kept on this page. Try " +
          (tries + 1) + " in " + seconds + " s, or as soon as there is a connection.",
        "is-waiting"
      );
      again.hidden = false;
      again.onclick = tryNow;
    };
    const judged = function (answer) {
      clearFaults(form);
      outcome.innerHTML = answer.said.html;
      kept.clear();
      form.reset();
      form.hidden = true;
      speak("");
      window.history.replaceState(null, "", answer.said.address);
      outcome.querySelector("h2").focus();
    };
    form.addEventListener("submit", async function (event) {
      event.preventDefault();
      if (busy) return;
      busy = true;
      button.setAttribute("aria-disabled", "true");
      try {
        speak("Sending.");
        const answer = await window.Benchnight.send(form.action, await contentOf(form, kept), {
          onProgress: progress,
          onWait: waiting,
          stalledAfterS: STALLED_AFTER_S,
        });
        again.hidden = true;
        if (answer.status === 200 && answer.said) judged(answer);
        else {
          const faults = answer.said && answer.said.faults;
          speak(faults ? "Something needs mending; it is marked. The file is kept." : window.Benchnight.answerWords(answer), "is-fault");
          if (faults) showFaults(form, faults);
        }
      } finally {
        busy = false;
        button.removeAttribute("aria-disabled");
      }
    });
  }

  document.querySelectorAll("form[data-bench]").forEach(follow);
})();
