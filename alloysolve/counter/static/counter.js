// With this script the answer comes as one types; without it, Enter and the buttons do the same by loading the page.
"use strict";
(() => {
  const PAUSE = 250; // ms without a keystroke after which an answer is asked for
  const form = document.getElementById("piece");
  const status = document.getElementById("status");
  const sheet = document.getElementById("sheet");
  let timer = 0;
  let running = null; // what is being asked; a later question cancels it

  function tell(state, text) {
    document.body.className = state;
    status.textContent = text;
  }

  function show(text) {
    const fresh = new DOMParser().parseFromString(text, "text/html");
    for (const old of document.querySelectorAll("[data-live]")) {
      const now = fresh.getElementById(old.id);
      if (now) old.replaceChildren(...now.childNodes);
    }
    for (const wrong of document.querySelectorAll(".wrong")) {
      const field = document.getElementById(wrong.id.replace("e-", "f-"));
      const is = wrong.textContent !== "";
      field.toggleAttribute("aria-invalid", false);
      if (is) field.setAttribute("aria-invalid", "true");
      if (is && wrong.closest("details")) wrong.closest("details").open = true;
    }
  }

  // Asks the program what it says to the form as it is; true if there is an answer.
  async function ask(what) {
    clearTimeout(timer);
    if (running) running.abort();
    const mine = running = new AbortController();
    form.elements.turn.value = Date.now();
    const empties = what === "next";
    const body = new URLSearchParams(new FormData(form));
    body.set("do", what);
    tell("working", form.dataset.working);
    try {
      const reply = await fetch(form.action, {method: "POST", body, signal: what === "keep" ? null : mine.signal});
      if (empties && reply.redirected) return location.assign(form.action);
      const text = await reply.text();
      if (mine !== running && what !== "keep") return false;
      if (reply.status === 204) later(); // a copy of this tab has asked after us
      if (!reply.ok) tell("stale", text);
      if (!reply.ok || !text) return false;
      show(text);
      if (mine === running) tell("", "");
      return document.querySelector("#answer .short") !== null;
    } catch (error) {
      if (mine === running) tell("stale", form.dataset.stopped);
      return false;
    }
  }

  function later() {
    clearTimeout(timer);
    timer = setTimeout(() => ask("answer"), PAUSE);
  }

  function firstWrong() {
    const wrong = document.querySelector('[aria-invalid="true"]');
    if (wrong) wrong.focus();
  }

  async function press(button) {
    const done = await ask(button.value === "keep" ? "keep" : "answer");
    if (!done) return firstWrong();
    if (button.value !== "page") return;
    button.formTarget = "sheet";
    printing = true;
    form.requestSubmit(button);
    printing = false;
  }

  let printing = false;
  form.addEventListener("input", later);
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "SELECT") return; // it would open the list of words
    event.preventDefault();
    form.requestSubmit();
  });
  form.addEventListener("submit", (event) => {
    const button = event.submitter || form.querySelector("button");
    if (printing) return;
    event.preventDefault();
    if (button.value === "next") ask("next"); // an empty form, or a warning; if neither can be had, what was typed stays
    else press(button);
  });
  sheet.addEventListener("load", () => {
    if (sheet.contentDocument && sheet.contentDocument.URL !== "about:blank") sheet.contentWindow.print();
  });

  // A page that was open when the program was stopped goes on with the program that is started next.
  if (window.BroadcastChannel) {
    const others = new BroadcastChannel("alloysolve");
    others.onmessage = ({data}) => {
      if (typeof data !== "string" || new URL(data).origin !== location.origin || data === form.action) return;
      form.action = data;
      ask("answer");
    };
    others.postMessage(form.action);
  }
})();
