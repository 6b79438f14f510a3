// What is on a page where scripts run: its parts, what is tapped on it, what comes by itself. Every form works without.
"use strict";

// The parts of a page as they were sent, by name: what a tap did not change is left as it stands.
let sent = new Map();
const partsOf = (root) => [...root.querySelectorAll("[data-part]")];
const namesOf = (root) => partsOf(root).map((part) => part.dataset.part).join();

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

// What has no button left to stand on keeps the focus itself: the next step is into it, and not from the top of the page.
function hold(part) {
  if (!part.hasAttribute("tabindex")) part.tabIndex = -1;
  part.focus({ preventScroll: true });
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
    if (hadFocus) hold(document.getElementById("next") ?? part);
  }
}

// A tap on a job is sent, and what it changed is put in place; a page of another kind takes the place of this one.
const underWay = new Set();

function fieldsOf(form, button) {
  const fields = new FormData(form);
  if (button?.name) fields.append(button.name, button.value);
  return new URLSearchParams(fields);
}

// Taps are sent one after another, as they were tapped. Whether the last of them was heard:
let heard = Promise.resolve(true);

async function send(form, button) {
  const tap = { form, button, fields: fieldsOf(form, button), main: document.querySelector("main"), mine: takeTurn() };
  for (const each of document.querySelectorAll(".unsent")) each.remove();
  const entering = heard.then((isHeard) => enter(tap, isHeard));
  const isHeard = (heard = entering.then((to) => to !== null));
  const to = await entering;
  if (heard === isHeard) heard = Promise.resolve(true); // what nobody heard is said, and may be tapped again
  underWay.delete(form);
  if (to && tap.mine === turn) await goOn(tap, new URL(to, location.href));
  endTurn(tap.mine);
}

// Returns where it leads to, "" where nothing more is to be shown, null where nobody heard it, or the one before it.
async function enter({ form, button, fields, main, mine }, isHeard) {
  let to = null, answer, said;
  try {
    if (!isHeard) throw new Error("what was tapped before is not entered either");
    const keepalive = fields.toString().length < MOST_KEPT_ALIVE;
    answer = await fetch(form.getAttribute("action"), { method: "POST", body: fields, headers: { "X-Follow": "1" }, keepalive });
    to = answer.headers.get("Content-Location");
    said = read(await answer.text());
  } catch {
    warn(form, to ? main.dataset.offlineAfter : main.dataset.offline, to);
    return to && "";
  }
  if (!to) return reply(answer, said, form, main);
  const isAll = main.isConnected && isWhole(said, to) && !form.action.endsWith("/undo");
  if (isAll) tickTapped(button);
  if (mine === turn || !main.isConnected) tell(said);
  return isAll ? "" : to;
}
const MOST_KEPT_ALIVE = 60_000; // bytes that a browser sends on when its page is gone

async function goOn({ form, main, mine }, to) {
  let found = null;
  try {
    [found] = await Promise.all([ask(to), painted()]);
  } catch {
    if (mine === turn) warn(form, main.dataset.offlineAfter, to);
    return;
  }
  if (mine !== turn) return;
  if (!found) return leave(to);
  const names = namesOf(found.page);
  if (!isHere(to) || !names || names !== namesOf(document)) return arrive(found);
  const isOfCard = form.closest("#live"); // all else stays where it was tapped
  tickAsOn(found.page);
  renew(found.page);
  form.reset();
  if (!isOfCard) to.hash = "";
  stand(to);
  if (isOfCard) unfold();
  keepTop();
}

// A form that leads nowhere is answered with a page: with what it asked for, or why it is refused. What is refused behind
// something else that is stands below that.
function reply(answer, said, form, main) {
  const page = said.querySelector("main");
  if (!page) warn(form, said.body.textContent);
  else if (!main.isConnected) document.querySelector("main").append(...page.childNodes);
  else {
    if (answer.ok) stand(new URL(answer.url));
    else place = "";
    put(said);
    settle();
  }
  return "";
}

function warn(form, words, to) {
  const said = Object.assign(document.createElement("p"), { className: "stop unsent", textContent: words });
  said.setAttribute("role", "alert");
  if (to) {
    const again = Object.assign(document.createElement("button"), { type: "button", textContent: document.querySelector("main").dataset.again });
    again.addEventListener("click", () => visit(new URL(to, location.href)));
    said.append(" ", again);
  }
  if (form.isConnected) form.before(said);
  else document.querySelector("main").prepend(said);
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

// What a look was said to show last has a tick.
const looks = () => [...document.querySelectorAll('.thing button[value^="- inspect:"]')];

function tick(button, is) {
  if (is) button.setAttribute("aria-current", "true");
  else button.removeAttribute("aria-current");
}

function tickTapped(button) {
  const beside = [...(button?.closest(".thing")?.querySelectorAll("button") ?? [])].map((each) => each.value);
  for (const each of looks()) if (beside.includes(each.value)) tick(each, each.value === button.value);
}

function tickAsOn(page) {
  const said = [...page.querySelectorAll(".thing [aria-current]")].map((each) => each.value);
  for (const each of looks()) tick(each, said.includes(each.value));
}

const isHere = (to) => new URL(to, location.href).pathname === location.pathname;

// Nothing else on this page follows from what was entered.
const isWhole = (said, to) => isHere(to) && namesOf(said) === namesOf(document);

// The next frame is on the screen; where nobody looks there is none.
function painted() {
  return new Promise((go) => {
    requestAnimationFrame(() => setTimeout(go));
    setTimeout(go, MOST_FRAME_MS);
  });
}
const MOST_FRAME_MS = 100;

// One tap is one entry: a form that is on its way is not sent twice. What is searched for is a page to go to.
document.addEventListener("submit", (event) => {
  const form = event.target, button = event.submitter;
  if (form.method === "get") {
    event.preventDefault();
    return visit(new URL(`?${fieldsOf(form, button)}`, form.action));
  }
  if (underWay.has(form)) return event.preventDefault();
  underWay.add(form);
  const isOfJob = form.getAttribute("action")?.startsWith("/jobs/") && form.closest("main");
  if (isOfJob && form.enctype !== "multipart/form-data") {
    event.preventDefault();
    send(form, button);
  }
});
addEventListener("pageshow", () => underWay.clear());

// The card, the suspicions, the map, and the open jobs of the bench or of a search fetch themselves again as long as
// something is being weighed.
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
    if (live.contains(at) && at.tabIndex >= 0) continue; // somebody is about to tap there
    try {
      const asked = performance.now();
      const answer = await fetch(live.dataset.refresh, { headers: { "X-Refresh": "1" }, signal: mine.signal });
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

// A link into a folded part opens it; what it names is in sight.
function unfold() {
  const aim = location.hash && document.getElementById(location.hash.slice(1));
  if (!aim) return null;
  const folded = aim.closest("details");
  if (folded && !folded.open) folded.open = true;
  aim.scrollIntoView();
  return aim;
}

// The screen stays awake while a job is open.
let awake = null;

function stayAwake() {
  awake?.then((lock) => lock?.release());
  const isOpen = document.getElementById("live") && document.visibilityState === "visible";
  awake = isOpen ? navigator.wakeLock?.request("screen").catch(() => null) : null; // null: not allowed here
}
document.addEventListener("visibilitychange", stayAwake);

function begin() {
  remember();
  fold(document);
  ready(document);
  offerCamera();
  stayAwake();
}
