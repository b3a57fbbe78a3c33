/* Keeps what is logged until the garden's program has it.

   A form with data-waits is sent from here: what it holds is first kept in this browser, then sent, and forgotten only
   when the program has answered that it is saved. What could not be sent waits, is shown on every page, and is sent
   again under the same key, so that it is never saved twice. Without this script the forms are plain ones. */
(() => {
  "use strict";

  const WAITING = "traymates waiting", DRAFTS = "traymates typed";
  const ASK = "Traymates-Waits", SAVED = "Traymates-Saved";
  const PATIENCE_MS = 10000;  // after which an answer is no longer waited for
  const SLOW_MS = 1500;       // after which it is said that it waits
  const AGAIN_MS = 15000;     // how often what waits is sent again
  const DRAFT_MS = 12 * 60 * 60 * 1000;  // how long what was typed and not sent is kept
  const OPEN = "waits", SIGN_IN = "sign in", OTHER = "other", LOOK = "look";
  // In other languages than English the page brings the words along, by what they are in English.
  const WORDS = JSON.parse(document.currentScript.dataset.words || "{}");
  const say = (words, values = {}) => (WORDS[words] || words).replace(/%\((\w+)\)s/g, (_, name) => values[name]);
  const WHY = {
    [OPEN]: say("waits for the network"),
    [SIGN_IN]: say("waits until you sign in again"),
    [OTHER]: say("waits until whoever typed it is signed in here again"),
    [LOOK]: say("was not taken: look at it"),
  };

  let store = null;
  try {
    localStorage.setItem("traymates try", "1");
    localStorage.removeItem("traymates try");
    store = localStorage;
  } catch {
    return;  // nothing can be kept here: the forms stay plain ones
  }

  const busy = new Set(), quiet = new Set();
  let sentNow = [];

  function read(name) {
    try {
      return JSON.parse(store.getItem(name)) || [];
    } catch {
      return [];
    }
  }

  function write(name, rows) {
    try {
      store.setItem(name, JSON.stringify(rows));
      return true;
    } catch {
      return false;
    }
  }

  const waiting = () => read(WAITING);
  const forget = (key) => write(WAITING, waiting().filter((one) => one.key !== key));

  function keep(entry) {
    return write(WAITING, [...waiting().filter((one) => one.key !== entry.key), entry]);
  }

  function note(key, state) {
    write(WAITING, waiting().map((one) => (one.key === key ? { ...one, state } : one)));
    show();
  }

  /* ---- what waits, on the page */

  function make(tag, text, name) {
    const element = document.createElement(tag);
    if (text) element.textContent = text;
    if (name) element.className = name;
    return element;
  }

  function button(text, act) {
    const made = make("button", text, "button plain");
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  }

  function show() {
    const main = document.getElementById("main");
    const old = document.getElementById("waiting");
    const here = document.querySelector("form[data-replaces]");  // what stands in the form of this page
    const rows = waiting().filter((one) => !quiet.has(one.key) && !(here && here.dataset.replaces === one.key));
    if (!main) return;
    if (!rows.length && !sentNow.length) {
      if (old) old.remove();
      return;
    }
    const box = make("section", "", rows.length ? "waiting" : "waiting sent");
    box.id = "waiting";
    box.setAttribute("role", "status");
    if (rows.length) {
      const sends = rows.filter((one) => one.state !== LOOK).length;
      if (!sends) box.append(make("h2", say("Not taken, and kept here")));
      else box.append(make("h2", sends === 1
        ? say("1 entry is waiting to be sent")
        : say("%(number)s entries are waiting to be sent", { number: sends })));
      box.append(make("p", sends
        ? say("Not saved yet. It is kept on this device, and sent by itself once the network is there and a page of the garden is open.")
        : say("Not saved. Look at it, put it right, and save it.")));
      const list = make("ul");
      for (const one of rows) {
        const line = make("li");
        const words = make("span", one.label);
        words.append(make("span", `${one.typed}, ${busy.has(one.key) ? say("is being sent") : WHY[one.state] || WHY[OPEN]}`, "sub"));
        line.append(words);
        if (one.state === SIGN_IN) {
          const link = make("a", say("Sign in"), "button plain");
          link.href = `/sign-in?next=${encodeURIComponent(location.pathname + location.search)}`;
          line.append(link);
        } else if (one.state === LOOK) {
          const link = button(say("Look at it"), () => send(one.key, true));
          line.append(link, button(say("Throw it away"), () => { forget(one.key); show(); }));
        }
        list.append(line);
      }
      box.append(list);
      if (sends) box.append(button(say("Send now"), () => sendAll()));
    } else {
      box.append(make("p", say("Sent and saved: %(entries)s.", { entries: sentNow.join("; ") })));
    }
    if (!old) main.prepend(box);
    else if (old.textContent !== box.textContent) old.replaceWith(box);  // else a tap on its way would miss
  }

  /* ---- sending */

  async function ask(address, options) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      const answer = await fetch(address, { ...options, credentials: "same-origin", cache: "no-store", signal: stop.signal });
      return { answer, text: answer.status === 204 ? "" : await answer.text() };
    } catch {
      return null;
    } finally {
      clearTimeout(timer);
    }
  }

  const formOf = (text) => new DOMParser().parseFromString(text, "text/html");

  /* A token lives as long as its session; the form's own page has one of the present session. */
  async function renew(entry) {
    const got = await ask(entry.action, {});
    if (!got || got.answer.status >= 500) return OPEN;
    const form = formOf(got.text).querySelector("form[data-waits]");
    if (!form && (isBench(got) || got.answer.status === 403)) return OTHER;
    if (!form) return got.answer.redirected ? SIGN_IN : LOOK;
    const fresh = new FormData(form), body = new URLSearchParams(entry.body);
    if (fresh.get("typed_by") !== body.get("typed_by")) return OTHER;
    body.set("csrf_token", fresh.get("csrf_token"));
    keep({ ...entry, body: body.toString() });
    return null;
  }

  /* Send one entry; `looks` shows on this page what the program has against it. */
  async function send(key, looks, isFirst) {
    const entry = waiting().find((one) => one.key === key);
    if (!entry || busy.has(key)) return;
    busy.add(key);
    show();
    let got = isFirst ? await post(entry) : null;
    let state = got ? stateOf(got) : null;
    if (!isFirst || (got && got.answer.status === 400)) {  // the session may be another one by now
      state = await renew(entry);
      if (!state || (state === LOOK && looks)) {
        got = await post(waiting().find((one) => one.key === key) || entry);
        state = stateOf(got);
      }
    }
    state = state || OPEN;
    busy.delete(key);
    if (state === SAVED) {
      forget(key);
      if (entry.replaces) forget(entry.replaces);
      forgetDraft(entry.action);
      if (isFirst) return location.assign(got.answer.headers.get(SAVED));
      sentNow.push(entry.label);
    } else if (state === LOOK && looks && got) {
      take(got.text, entry);
    }
    note(key, state);
  }

  function post(entry) {
    const headers = { "Content-Type": "application/x-www-form-urlencoded", [ASK]: "yes" };
    return ask(entry.action, { method: "POST", body: entry.body, headers });
  }

  function stateOf(got) {
    if (!got || got.answer.status >= 500 || got.answer.status === 429) return OPEN;
    if (got.answer.headers.get(SAVED)) return SAVED;
    if (got.answer.status === 401) return SIGN_IN;
    return isBench(got) ? OTHER : LOOK;
  }

  const isBench = (got) => got.answer.redirected && new URL(got.answer.url).pathname.endsWith("/bench");

  async function sendAll() {
    for (const one of waiting()) {
      if (one.state !== LOOK) await send(one.key, false);
    }
  }

  /* Put the program's answer, with the filled form and what is wrong with it, in place of this page. */
  function take(text, entry) {
    const page = formOf(text), main = page.getElementById("main"), form = page.querySelector("form[data-waits]");
    if (!main) return;
    document.getElementById("main").replaceWith(document.adoptNode(main));
    document.title = page.title;
    if (form) {
      if (!form.getAttribute("action")) form.setAttribute("action", entry.action);
      form.dataset.replaces = entry.key;
    }
    scrollTo(0, 0);
    const summary = document.querySelector(".summary");
    if (summary) summary.focus();
  }

  /* ---- what is typed */

  const addressOf = (form) => form.getAttribute("action") || location.pathname + location.search;

  function valuesOf(form) {
    const values = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (typeof value === "string") values.append(name, value);
    return values;
  }

  const typedBy = (form) => new FormData(form).get("typed_by") || "";

  function forgetDraft(action) {
    write(DRAFTS, read(DRAFTS).filter((one) => one.action !== action));
  }

  function keepDraft(form) {
    const action = addressOf(form), body = valuesOf(form);
    for (const name of ["csrf_token", "key", "revision"]) body.delete(name);
    const others = read(DRAFTS).filter((one) => one.action !== action && one.at > Date.now() - DRAFT_MS);
    write(DRAFTS, [...others, { action, by: typedBy(form), body: body.toString(), at: Date.now() }]);
  }

  function fill(form, body) {
    for (const input of form.elements) {
      if (!input.name || input.type === "hidden" || input.type === "submit") continue;
      const values = body.getAll(input.name);
      if (input.type === "checkbox" || input.type === "radio") input.checked = values.includes(input.value);
      else if (values.length) input.value = values[0];
    }
  }

  function restore(form) {
    if (document.querySelector(".summary")) return;  // the program has just given back what was typed
    const draft = read(DRAFTS).find((one) => one.action === addressOf(form));
    if (!draft || draft.by !== typedBy(form) || draft.at < Date.now() - DRAFT_MS) return;
    const before = valuesOf(form).toString();
    fill(form, new URLSearchParams(draft.body));
    if (valuesOf(form).toString() === before) return;
    const words = make("p", `${say("What you typed here before stands in the form again; it is not saved yet.")} `, "hint");
    words.append(button(say("Begin anew"), () => { forgetDraft(draft.action); location.reload(); }));
    form.prepend(words);
  }

  function submit(event) {
    const form = event.target;
    if (event.defaultPrevented || !form.matches("form[data-waits]")) return;
    const action = addressOf(form), body = valuesOf(form), key = body.get("key");
    const time = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    const entry = { key, action, body: body.toString(), label: form.dataset.waits, typed: say("typed at %(time)s", { time }), state: OPEN };
    if (form.dataset.replaces) entry.replaces = form.dataset.replaces;
    if (busy.has(key)) return event.preventDefault();
    if (!key || !keep(entry)) return;  // it cannot be kept: the browser sends it
    event.preventDefault();
    quiet.add(key);
    const save = form.querySelector("button[type=submit]"), words = save.textContent;
    save.textContent = say("Sending …");
    form.inert = true;
    const tell = () => {
      if (!quiet.delete(key)) return;
      show();
      document.getElementById("waiting")?.scrollIntoView({ block: "nearest" });
    };
    const slow = setTimeout(tell, SLOW_MS);
    send(key, true, true).finally(() => {
      clearTimeout(slow);
      form.inert = false;
      save.textContent = words;
      tell();
    });
  }

  document.addEventListener("submit", submit);
  document.addEventListener("input", (event) => {
    const form = event.target.closest?.("form[data-waits]");
    if (form) keepDraft(form);
  });
  addEventListener("online", sendAll);
  addEventListener("storage", show);
  addEventListener("pageshow", () => { show(); sendAll(); });
  // Not at a device that everybody shares: it forgets who is at it, unless it hears of them.
  if (!document.querySelector(".who a[href$='/bench']")) setInterval(sendAll, AGAIN_MS);
  document.querySelectorAll("form[data-waits]").forEach(restore);
})();
