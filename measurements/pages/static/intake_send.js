/* Hands files in: from what was dropped over the table to one intake, or several where they are too many. */
"use strict";

(function () {
  const STALLED_AFTER_S = 180; // taking in 300 files takes the server a while
  const ROOM = 0.9; // of the body limit: the rest is for boundaries and the manifest
  const B = window.Benchnight;

  /* Files that make one test stay together: the same tag, contributor, test and method. */
  function batches(rows, lines, mostBytes, mostFiles) {
    const groups = new Map();
    rows.forEach(function (row, at) {
      const line = lines[at];
      const tagged = [line.tag, line.contributor, line.kind, line.method].join("\n");
      const key = line.tag ? tagged : "file " + at;
      if (!groups.has(key)) groups.set(key, []);
      groups.get(key).push(at);
    });
    const found = [[]];
    let size = 0;
    groups.forEach(function (members) {
      const bytes = members.reduce(function (sum, at) {
        return sum + rows[at].file.size + 400;
      }, 0);
      const full = found[found.length - 1];
      if (full.length && (size + bytes > mostBytes || full.length + members.length > mostFiles)) {
        found.push([]);
        size = 0;
      }
      found[found.length - 1].push(...members);
      size += bytes;
    });
    return found;
  }

  function counted(count, word) {
    return count + " " + word + (count === 1 ? "" : "s");
  }

  function start(form) {
    const table = B.intakeTable(form, showTotal);
    const say = form.querySelector("[data-say]");
    const bar = form.querySelector("[data-sent]");
    const again = form.querySelector("[data-again]");
    const faults = form.querySelector("[data-faults]");
    const read = form.querySelector("[data-read]");
    const total = form.querySelector("[data-total]");
    const zone = form.querySelector("[data-drop-many]");
    const zipPlace = form.querySelector("[data-zips]");
    const folders = form.querySelector("[data-folders]");
    const token = form.querySelector("input[name=csrfmiddlewaretoken]");
    const zips = [];
    let manifest = []; // lines of manifests, also for files that come later
    let busy = false;
    let warned = false; // that lines lack something; a second press sends them as they are

    form.querySelectorAll("[data-scripted]").forEach(function (each) {
      each.hidden = false;
    });

    function complain(lines) {
      faults.hidden = lines.length === 0;
      faults.replaceChildren(
        ...lines.map(function (words) {
          const line = document.createElement("li");
          line.textContent = words;
          return line;
        })
      );
      if (!lines.length) return;
      faults.scrollIntoView({ block: "center" });
      faults.focus({ preventScroll: true });
    }

    /* Names are guessed with their folders; the answer has a line for each, in the same order. */
    async function guess(rows) {
      const content = new FormData();
      content.set("csrfmiddlewaretoken", token.value);
      content.set("names", rows.map(function (row) {
        return row.path;
      }).join("\n"));
      content.set("folders", folders.value);
      const answer = await fetch(form.dataset.manifestUrl, { method: "POST", body: content, credentials: "same-origin" });
      if (!answer.ok || answer.redirected) throw new Error("The server answered " + answer.status);
      return (B.csvRecords(await answer.text()) || []).map(function (line, at) {
        return Object.assign(line, { guessed: true, file: rows[at].name });
      });
    }

    async function take(found) {
      const kept = await B.filesSorted(found);
      const sizes = kept.sweeps.filter(function (each) {
        return each.file.size > Number(form.dataset.sweepBytes);
      });
      complain(
        sizes.map(function (each) {
          return each.name + " is larger than a sweep may be, and was left out. Save fewer points.";
        })
      );
      const taken = { new: [], here: [], anew: [], beside: [] }; // by what became of them
      for (const each of kept.sweeps) {
        if (sizes.includes(each)) continue;
        const { name, how } = await table.take(each.name, each.file, each.path);
        taken[how].push(name);
      }
      manifest = manifest.concat(kept.lines);
      addZips(kept.zips);
      table.count();
      await fillFromNames(taken.new.concat(taken.beside));
      table.fill(manifest);
      read.textContent = takenWords(taken, kept.lines.length);
    }

    function takenWords(taken, manifestLines) {
      const added = taken.new.length + taken.beside.length;
      const unfound = manifest.filter(function (line) {
        return !table.rows.some(function (row) {
          return row.name === line.file;
        });
      });
      const said = ["Added: " + counted(added, "sweep") + (manifestLines ? ", a manifest of " + counted(manifestLines, "line") : "") + "."];
      if (taken.here.length) said.push("Here already: " + taken.here.join(", ") + ".");
      if (taken.anew.length) said.push("Saved anew since, and replaced: " + taken.anew.join(", ") + ".");
      if (taken.beside.length) {
        said.push("Named like a file that is here, with other figures inside, and added beside it as " + taken.beside.join(", ") + ". Leave out what does not belong.");
      }
      if (unfound.length && table.rows.length) said.push(counted(unfound.length, "line") + " of the manifest " + (unfound.length === 1 ? "names a file that is" : "name files that are") + " not here yet.");
      return said.join(" ");
    }

    function showTotal() {
      if (warned) say.textContent = "";
      warned = false;
      const parts = [];
      if (table.rows.length) parts.push(counted(table.rows.length, "sweep"));
      if (zips.length) parts.push(counted(zips.length, "zip"));
      const short = table.lacking().length;
      total.textContent = parts.length
        ? "To be handed in: " + parts.join(" and ") + (short ? ", " + short + " with something missing" : "") + "."
        : "";
    }

    async function fillFromNames(names) {
      const most = 400;
      try {
        const rows = table.rows.filter(function (row) {
          return names.includes(row.name);
        });
        for (let at = 0; at < rows.length; at += most) table.fill(await guess(rows.slice(at, at + most)));
      } catch (error) {
        read.textContent = "What the names suggest could not be asked for (no connection). Fill the table by hand.";
      }
    }

    function addZips(found) {
      found.forEach(function (file) {
        const here = zips.findIndex(function (zip) {
          return zip.name === file.name && zip.size === file.size && zip.lastModified === file.lastModified;
        });
        if (here < 0) zips.push(file);
        else zips[here] = file;
      });
      showZips();
    }

    function showZips() {
      zipPlace.hidden = zips.length === 0;
      zipPlace.querySelector("ul").replaceChildren(
        ...zips.map(function (file) {
          const line = document.createElement("li");
          const out = document.createElement("button");
          out.type = "button";
          out.className = "plain-button";
          out.textContent = "Leave out";
          out.setAttribute("aria-label", "Leave out " + file.name);
          out.addEventListener("click", function () {
            zips.splice(zips.indexOf(file), 1);
            showZips();
          });
          line.append(file.name + " ", out);
          return line;
        })
      );
      showTotal();
    }

    function content(parts) {
      const made = new FormData();
      made.set("csrfmiddlewaretoken", token.value);
      parts.forEach(function (part) {
        made.append(part[0], part[1], part[2]);
      });
      return made;
    }

    function loads() {
      const lines = table.lines();
      const made = zips.map(function (file) {
        return [["archive", file, file.name]];
      });
      if (!table.rows.length) return made;
      const most = Number(form.dataset.mostBytes) * ROOM;
      batches(table.rows, lines, most, Number(form.dataset.mostFiles) - 1).forEach(function (members) {
        const text = table.text(
          members.map(function (at) {
            return lines[at];
          })
        );
        const files = members.map(function (at) {
          return ["sweep", table.rows[at].file, table.rows[at].name];
        });
        made.push([["manifest", new Blob([text], { type: "text/csv" }), "manifest.csv"], ...files]);
      });
      return made;
    }

    async function sendAll() {
      const all = loads();
      const done = [];
      for (const parts of all) {
        const which = all.length > 1 ? " (" + (done.length + 1) + " of " + all.length + ")" : "";
        const answer = await B.send(form.action, content(parts), {
          stalledAfterS: STALLED_AFTER_S,
          onProgress: function (sent, total) {
            bar.hidden = false;
            again.hidden = true;
            bar.value = sent / total;
            say.className = "bench-say";
            say.textContent =
              sent < total
                ? "Sending" + which + ": " + (sent / 1e6).toFixed(1) + " of " + (total / 1e6).toFixed(1) + " MB."
                : "Sent" + which + ". The server is taking the files in.";
          },
          onWait: function (seconds, tries, tryNow) {
            say.className = "bench-say is-waiting";
            say.textContent =
              "The connection dropped. Files and table are kept on this page. Try " + (tries + 1) + " in " + seconds +
              " s, or as soon as there is a connection.";
            again.hidden = false;
            again.onclick = tryNow;
          },
        });
        if (answer.status !== 202 || !answer.said) return { done: done, answer: answer, left: all.length - done.length };
        done.push(answer.said.address);
      }
      return { done: done, answer: null, left: 0 };
    }

    async function handIn() {
      complain([]);
      if (!table.rows.length && !zips.length) {
        complain(["Choose files first: nothing is here to hand in."]);
        return;
      }
      const short = table.lacking().length;
      if (short && !warned) {
        say.className = "bench-say is-waiting";
        say.textContent =
          counted(short, "file") + " would come back: see “Missing” in the table. Fill it in, or press “Hand in” again to send " +
          (short === 1 ? "it as it is." : "them as they are.");
        warned = true;
        delete form.dataset.handedIn; // leaving the page would still lose the table
        return;
      }
      const outcome = await sendAll();
      bar.hidden = true;
      say.textContent = "";
      if (outcome.answer) {
        const taken = outcome.done.length ? [outcome.done.length + " parts were taken in before this one; handing in again finds them already there."] : [];
        complain([...taken, B.answerWords(outcome.answer)]);
        return;
      }
      busy = false; // leaving is right now
      const night = form.action.replace(/intake\/$/, "#intakes");
      window.location.assign(outcome.done.length === 1 ? outcome.done[0] : night);
    }

    window.addEventListener("beforeunload", function (event) {
      if (busy || table.rows.length) {
        if (busy || !form.dataset.handedIn) event.preventDefault();
      }
    });
    ["dragenter", "dragover"].forEach(function (name) {
      document.addEventListener(name, function (event) {
        event.preventDefault();
        zone.classList.add("is-over");
      });
    });
    document.addEventListener("dragleave", function (event) {
      if (!event.relatedTarget) zone.classList.remove("is-over");
    });
    document.addEventListener("drop", async function (event) {
      event.preventDefault();
      zone.classList.remove("is-over");
      await take(await B.filesDropped(event.dataTransfer));
    });
    form.querySelectorAll("input[type=file]").forEach(function (input) {
      input.classList.add("is-emptied");
      input.addEventListener("change", async function () {
        await take(B.filesChosen(input));
        input.value = ""; // the same folder can be chosen again after a change in it
      });
    });
    folders.addEventListener("change", async function () {
      table.forget(["tag", "contributor"]);
      await fillFromNames(table.rows.map(function (row) {
        return row.name;
      }));
      table.fill(manifest);
    });
    form.querySelector("[data-download]").addEventListener("click", function () {
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([table.text()], { type: "text/csv" }));
      link.download = "manifest.csv";
      link.click();
      URL.revokeObjectURL(link.href);
    });
    form.addEventListener("submit", async function (event) {
      event.preventDefault();
      if (busy) return;
      busy = true;
      try {
        form.dataset.handedIn = "yes";
        await handIn();
      } finally {
        busy = false;
      }
    });
  }

  document.querySelectorAll("form[data-intake]").forEach(start);
})();
