// What makes the pages quicker where scripts run; every form works without it.
"use strict";

// The parts of a page as they were sent, by name: what a tap did not change is left as it stands.
let sent = new Map();
const partsOf = (root) => [...root.querySelectorAll("[data-part]")];
const namesOf = (root) => partsOf(root).map((part) => part.dataset.part).join();
const filesOf = (root) => [...root.querySelectorAll("link[rel=stylesheet], script[src]")].map((each) => each.outerHTML).join();
const read = (text) => new DOMParser().parseFromString(text, "text/html");

function remember() {
  sent = new Map(partsOf(document).map((part) => [part.dataset.part, part.outerHTML]));
}

// What somebody opened or closed stays so, as long as it is there.
function keepOpen(before, after) {
  const all = (part) => [part, ...part.querySelectorAll("details")].filter((each) => each.matches("details"));
  const name = (each) => `${each.closest("[data-card]")?.dataset.card} ${each.querySelector("summary")?.textContent.replace(/\d+/g, "")}`;
  const known = new Map(all(before).map((each) => [name(each), each.open]));
  for (const each of all(after)) each.open = known.get(name(each)) ?? each.open;
}

// Put the parts in place that are not as they were sent before.
function renew(page) {
  for (const part of partsOf(page)) {
    const name = part.dataset.part, html = part.outerHTML;
    const old = document.querySelector(`[data-part="${name}"]`);
    if (!old || (sent.get(name) === html && !html.includes("data-vanish"))) continue;
    const hadFocus = old.contains(document.activeElement);
    fold(part);
    keepOpen(old, part);
    old.replaceWith(document.adoptNode(part));
    sent.set(name, html);
    ready(part);
    if (hadFocus) document.getElementById("next")?.focus({ preventScroll: true });
  }
}

// A tap on a job is sent, and what it changed is put in place; a page of another kind takes the place of this one.
let turn = 0, path = location.pathname;
const underWay = new Set();

async function send(form, button) {
  const fields = new FormData(form), mine = ++turn, main = document.querySelector("main");
  if (button?.name) fields.append(button.name, button.value);
  document.getElementById("offline")?.remove();
  main.setAttribute("aria-busy", "true");
  let to = null;
  try {
    const body = new URLSearchParams(fields), headers = { "X-Follow": "1" };
    const answer = await fetch(form.getAttribute("action"), { method: "POST", body, headers });
    const said = read(await answer.text());
    to = answer.headers.get("Content-Location");
    const all = to && isAll(said, to);
    if (all) mark(button);
    if (mine !== turn) return;
    if (!to) return show(answer, said, form, answer.url); // refused
    tell(said);
    if (all) return;
    const rest = await Promise.all([fetch(to), painted()]).then(([rest]) => rest);
    const page = read(await rest.text());
    if (mine === turn) show(rest, page, form, to);
  } catch {
    if (mine === turn) tellOffline(form, main, to);
  } finally {
    underWay.delete(form);
    if (mine === turn) main.removeAttribute("aria-busy");
  }
}

// What was entered stands there before all that follows from it.
function tell(said) {
  if (!document.querySelector("[data-part=entered]")) {
    const part = document.createElement("div");
    part.dataset.part = "entered";
    document.querySelector("main").prepend(part);
  }
  renew(said);
}

// What a look was said to show last is marked; what is taken back is not said.
const marks = [];
const looks = () => [...document.querySelectorAll('.thing button[value^="- inspect:"]')];

function mark(button) {
  const before = looks().filter((each) => each.hasAttribute("aria-current"));
  const beside = [...(button?.closest(".thing")?.querySelectorAll("button") ?? [])].map((each) => each.value);
  if (button?.dataset.test === "undo" && !marks.length) return location.reload(); // entered before this page was got
  if (button?.dataset.test === "undo") marks.pop()();
  else for (const each of looks()) if (beside.includes(each.value)) say(each, each.value === button.value);
  marks.push(() => looks().forEach((each) => say(each, before.includes(each))));
}

function say(button, is) {
  if (is) button.setAttribute("aria-current", "true");
  else button.removeAttribute("aria-current");
}

const isHere = (to) => new URL(to, location.href).pathname === location.pathname;

// Nothing else on this page follows from it.
const isAll = (said, to) => isHere(to) && namesOf(said) === namesOf(document);

// The next frame is on the screen; where nobody looks there is none.
function painted() {
  return new Promise((go) => {
    requestAnimationFrame(() => setTimeout(go));
    setTimeout(go, MOST_FRAME_MS);
  });
}
const MOST_FRAME_MS = 100;

function tellOffline(form, main, to) {
  const said = document.createElement("p");
  Object.assign(said, { id: "offline", className: "stop", textContent: to ? main.dataset.offlineAfter : main.dataset.offline });
  said.setAttribute("role", "alert");
  if (to) {
    const again = Object.assign(document.createElement("button"), { type: "button", textContent: main.dataset.again });
    again.addEventListener("click", () => (isHere(to) ? location.reload() : location.assign(to)));
    said.append(" ", again);
  }
  form.before(said);
}

function show(answer, page, form, address) {
  const to = new URL(address, location.href), stays = answer.ok && isHere(to);
  if (stays && namesOf(page) && namesOf(page) === namesOf(document)) {
    const goesOn = form.closest("#live"); // all else stays where it was tapped
    renew(page);
    form.reset();
    history.replaceState(null, "", goesOn ? to : to.pathname);
    if (goesOn) unfold();
    return;
  }
  if (filesOf(page) !== filesOf(document)) {
    if (answer.ok) location.assign(to);
    else HTMLFormElement.prototype.submit.call(form); // refused, and so not entered: it is refused again
    return;
  }
  document.title = page.title;
  document.body = document.adoptNode(page.body);
  scrollTo(0, 0);
  if (answer.ok) {
    history[stays ? "replaceState" : "pushState"](null, "", to);
    path = location.pathname;
  }
  begin();
}

addEventListener("popstate", () => {
  if (location.pathname !== path) location.reload();
});

// One tap is one entry: a form that is on its way is not sent twice.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (underWay.has(form)) return event.preventDefault();
  underWay.add(form);
  const isOfJob = form.getAttribute("action")?.startsWith("/jobs/") && form.closest("main");
  if (isOfJob && form.method === "post" && form.enctype !== "multipart/form-data") {
    event.preventDefault();
    send(form, event.submitter);
  }
});
addEventListener("pageshow", () => underWay.clear());

// The card, the suspicions, the map, and the open jobs of the bench fetch themselves again as long as something is being weighed; the bench answers
// as soon as it knows more.
const SOON_MS = 100, LATER_MS = 1200;
let following = null;

async function follow(live) {
  following?.abort();
  const mine = (following = new AbortController());
  let pause = live.id === "live" ? SOON_MS : LATER_MS;
  while (live.dataset.refresh) {
    await new Promise((go) => setTimeout(go, pause));
    const at = document.activeElement;
    pause = LATER_MS;
    if (mine.signal.aborted || !live.isConnected) return;
    if (live.contains(at) && at.id !== "next") continue; // somebody is about to tap there
    try {
      const asked = performance.now();
      const answer = await fetch(live.dataset.refresh, { signal: mine.signal });
      const page = read(await answer.text());
      if (mine.signal.aborted || !live.isConnected) return;
      if (!answer.ok) continue;
      renew(page);
      if (performance.now() - asked > LATER_MS) pause = SOON_MS; // it was waited for
    } catch {
      // no network just now: ask again
    }
  }
}

// What is looked at now and then is folded away on a narrow screen.
function fold(root) {
  if (!matchMedia("(max-width: 760px)").matches) return;
  for (const each of root.querySelectorAll("details[data-fold]")) each.open = false;
}

// What is new on the page: "take it back" goes when its ten seconds are over, lists can be narrowed, the card follows.
function ready(root) {
  for (const each of root.querySelectorAll("[data-vanish]")) {
    setTimeout(() => each.remove(), 1000 * Number(each.dataset.vanish));
  }
  for (const each of root.querySelectorAll("[data-finder]")) narrowBy(each);
  const live = root.matches?.("[data-refresh]") ? root : root.querySelector("[data-refresh]");
  if (live) follow(live);
}

// Long lists are narrowed while somebody writes.
function narrowBy(field) {
  field.closest(".finder").hidden = false;
  field.addEventListener("input", () => {
    const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const group of document.querySelectorAll("details.group")) {
      let any = false;
      for (const thing of group.querySelectorAll("[data-find]")) {
        const fits = words.every((word) => thing.dataset.find.includes(word));
        thing.hidden = !fits;
        any ||= fits;
      }
      group.hidden = !any;
      group.open = any && words.length > 0;
    }
  });
}

// A link into a folded part opens it.
function unfold() {
  const aim = location.hash && document.getElementById(location.hash.slice(1));
  if (!aim) return;
  const folded = aim.closest("details");
  if (folded && !folded.open) folded.open = true;
  aim.scrollIntoView();
}
addEventListener("hashchange", unfold);

// The screen stays awake while a job is open.
async function stayAwake() {
  if (document.getElementById("live") && document.visibilityState === "visible" && navigator.wakeLock) {
    try {
      await navigator.wakeLock.request("screen");
    } catch {
      // not allowed here
    }
  }
}
document.addEventListener("visibilitychange", stayAwake);

function begin() {
  remember();
  fold(document);
  ready(document);
  offerCamera();
  unfold();
  stayAwake();
}
begin();
