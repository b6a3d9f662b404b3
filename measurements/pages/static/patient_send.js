/* Sends a form over a bad link: it keeps trying with the same content until an answer comes.
   The server knows the same content again, so a try that did arrive makes no second test. */
"use strict";

(function () {
  const PAUSES_S = [1, 2, 4, 8, 15];
  const BAD_GATEWAY = [502, 503, 504];

  function once(address, form, stalledAfterS, onProgress) {
    return new Promise(function (resolve, reject) {
      const request = new XMLHttpRequest();
      let watch = 0;
      const alive = function () {
        window.clearTimeout(watch);
        watch = window.setTimeout(function () {
          request.abort();
        }, stalledAfterS * 1000);
      };
      const lost = function () {
        window.clearTimeout(watch);
        reject(new Error("The connection broke."));
      };
      request.open("POST", address);
      request.setRequestHeader("Accept", "application/json");
      request.upload.addEventListener("progress", function (event) {
        alive();
        if (event.lengthComputable) onProgress(event.loaded, event.total);
      });
      ["error", "abort", "timeout"].forEach(function (name) {
        request.addEventListener(name, lost);
      });
      request.addEventListener("load", function () {
        window.clearTimeout(watch);
        if (BAD_GATEWAY.includes(request.status)) lost();
        else resolve(answerOf(request));
      });
      alive();
      request.send(form);
    });
  }

  function answerOf(request) {
    let said = null;
    const kind = request.getResponseHeader("Content-Type") || "";
    if (kind.startsWith("application/json")) said = JSON.parse(request.responseText);
    return { status: request.status, said: said, signedOut: request.responseURL.includes("/sign-in/") };
  }

  function pause(seconds, hold) {
    return new Promise(function (resolve) {
      const end = function () {
        window.clearTimeout(timer);
        window.removeEventListener("online", end);
        hold.now = null;
        resolve();
      };
      const timer = window.setTimeout(end, seconds * 1000);
      window.addEventListener("online", end);
      hold.now = end;
    });
  }

  async function freshToken(form) {
    // signing in again gives the browser another token: the page's own one is stale then
    const answer = await fetch(window.location.href, { credentials: "same-origin" });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const field = page.querySelector("input[name=csrfmiddlewaretoken]");
    if (answer.redirected || !field) return false;
    form.set("csrfmiddlewaretoken", field.value);
    return true;
  }

  /* options: onProgress(sent, total), onWait(seconds, tries, tryNow), stalledAfterS.
     Resolves with {status, said, signedOut}; never rejects for a lost connection. */
  async function send(address, form, options) {
    const hold = { now: null };
    let asked = false;
    for (let tries = 0; ; ) {
      try {
        const answer = await once(address, form, options.stalledAfterS, options.onProgress);
        if (answer.status !== 403 || answer.said || asked) return answer;
        asked = true;
        if (!(await freshToken(form))) return { status: 403, said: null, signedOut: true };
      } catch (error) {
        const seconds = PAUSES_S[Math.min(tries, PAUSES_S.length - 1)];
        tries += 1;
        const waiting = pause(seconds, hold);
        options.onWait(seconds, tries, function () {
          if (hold.now) hold.now();
        });
        await waiting;
      }
    }
  }

  function words(answer) {
    if (answer.signedOut) {
      return "You are signed out. Sign in in another tab of this browser, then press the button again: everything here is kept.";
    }
    if (answer.said && answer.said.faults) {
      return answer.said.faults
        .map(function (fault) {
          return fault.detail;
        })
        .join(" ");
    }
    if (answer.status === 413) return "That is more than the server takes at once. Send fewer or smaller files.";
    if (answer.status === 403) return "This page was open for too long. Open it in another tab and copy over what you typed.";
    return "The server could not take it (answer " + answer.status + "). Everything here is kept; try again in a minute.";
  }

  window.Benchnight = Object.assign(window.Benchnight || {}, { send: send, answerWords: words });
})();
