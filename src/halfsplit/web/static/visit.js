// From page to page where scripts run: what a link, a search, or the way back leads to takes the place of this page.
"use strict";

// What was tapped last, a link or an entry, is what is shown in the end.
let turn = 0, asking = new AbortController();

function takeTurn() {
  asking.abort();
  asking = new AbortController();
  document.querySelector("main").setAttribute("aria-busy", "true");
  return ++turn;
}

function endTurn(mine) {
  if (mine === turn) document.querySelector("main").removeAttribute("aria-busy");
}

const addressOf = ({ pathname, search }) => pathname + search;
const filesOf = (root) => [...root.querySelectorAll("link[rel=stylesheet], script[src]")].map((each) => each.outerHTML).join();
const read = (text) => new DOMParser().parseFromString(text, "text/html");

// A page that may take the place of this one, and its address; null = it is for the browser: a picture, an error, a page
// with other files than this one's.
async function ask(to, { signal } = asking, headers = {}) {
  const answer = await fetch(to, { signal, headers });
  if (!answer.ok || !answer.headers.get("Content-Type")?.startsWith("text/html")) return null;
  const page = read(await answer.text()), address = new URL(answer.url);
  address.hash = to.hash;
  return filesOf(page) === filesOf(document) ? { page, address } : null;
}

function leave(to) {
  asking.abort();
  if (to.href === location.href) location.reload();
  else location.assign(to);
}

// Go to a page, or back to it as far down as it was left. What is being entered is waited for; where nobody heard that,
// or it was refused, this page stays.
async function visit(to, top) {
  const mine = takeTurn(), early = askedEarly(to, mine);
  const isOver = () => mine !== turn || (top !== undefined && to.href !== location.href);
  let found = null;
  try {
    if (!(await heard) || isOver()) return;
    found = await early;
    if (found === undefined) found = await ask(to);
  } catch {
    // no connection: the browser says so
  } finally {
    endTurn(mine);
  }
  if (isOver()) return;
  if (found) arrive(found, top);
  else leave(to);
  if (found && (await early)) come();
}

// Whose time goes to a job is noted when they come to its sheet, and not when it was asked for.
function come() {
  const to = document.querySelector("[data-come]")?.dataset.come, token = document.querySelector("[name=token]")?.value;
  if (to) fetch(to, { method: "POST", body: new URLSearchParams({ token }), headers: { "X-Refresh": "1" } }).catch(() => {}); // the next tap notes it
}

function arrive({ page, address }, top) {
  keepTop();
  stand(address);
  put(page);
  settle(top);
}

// A page takes the place of this one.
let arrived = 0;

function put(page) {
  following?.abort();
  turn += 1;
  arrived = performance.now();
  document.title = page.title;
  document.body = document.adoptNode(page.body);
  begin();
}

// Somebody comes to what the address names, to where they were before, or to the top. What is read out there first has
// the focus, or the field that waits for a scanner.
function settle(top) {
  const aim = unfold();
  const at = aim ?? document.querySelector("[autofocus]") ?? document.querySelector("h1");
  if (at.tabIndex < 0) at.tabIndex = -1;
  at.focus({ preventScroll: true });
  if (top !== undefined || !aim) scrollTo(0, top ?? 0);
  keepTop();
}

// Which page is shown; "" = one that is not in the history, for nothing was entered. How far down somebody is on it is
// kept there.
let place = addressOf(location), resting;
const REST_MS = 200;

function stand(address) {
  const isHere = addressOf(address) === addressOf(location);
  history[isHere ? "replaceState" : "pushState"]({ top: 0 }, "", address);
  place = addressOf(location);
}

function keepTop() {
  const top = scrollY;
  if (addressOf(location) === place && history.state?.top !== top) history.replaceState({ top }, "");
}

history.scrollRestoration = "manual";
addEventListener("scroll", () => {
  clearTimeout(resting);
  resting = setTimeout(keepTop, REST_MS);
});
addEventListener("popstate", ({ state }) => {
  clearTimeout(resting);
  if (addressOf(location) !== place) visit(new URL(location.href), state?.top ?? 0);
  else if (state) scrollTo(0, state.top);
});
addEventListener("hashchange", () => {
  if (!history.state) unfold();
  keepTop();
});

// The second click of a double click is not meant for the page that the first one led to.
const DOUBLE_MS = 500;
document.addEventListener("click", (event) => {
  if (event.detail < 2 || event.timeStamp - arrived > DOUBLE_MS) return;
  event.preventDefault();
  event.stopPropagation();
}, true);

// The link that a tap is on, and where to, if that may take the place of this page.
function linkOf(event) {
  const isPlain = !event.button && !event.ctrlKey && !event.metaKey && !event.shiftKey && !event.altKey;
  const link = event.target.closest("a[href]");
  if (!link || event.defaultPrevented || !isPlain || link.hasAttribute("target") || link.hasAttribute("download")) return null;
  const href = link.getAttribute("href"), to = new URL(href, location.href);
  if (to.origin !== location.origin) return null;
  return { to, isWithin: href.startsWith("#") || (to.hash && addressOf(to) === place) };
}

document.addEventListener("click", (event) => {
  const link = linkOf(event);
  if (!link) return;
  if (link.isWithin) return keepTop();
  event.preventDefault();
  visit(link.to);
});

// What a link leads to is asked for as soon as it is pressed: to let it go takes a hand another tenth of a second.
let pressed = null;
const MOST_HELD_MS = 1000;

function letGo() {
  pressed?.asking.abort();
  pressed = null;
}

document.addEventListener("pointerdown", (event) => {
  letGo();
  const link = linkOf(event);
  if (!link || link.isWithin || underWay.size) return; // what is being entered may change it
  const early = new AbortController();
  const found = ask(link.to, early, { "X-Early": "1" }).catch(() => undefined); // it is asked for once more
  pressed = { to: link.to, turn, at: performance.now(), asking: early, found };
});
document.addEventListener("pointercancel", letGo); // it was scrolled and not tapped

// What was asked for when the link was pressed that is now followed; nothing where it was not, or may be old.
function askedEarly(to, mine) {
  const early = pressed;
  if (early?.to.href !== to.href || early.turn !== mine - 1 || performance.now() - early.at > MOST_HELD_MS) return undefined;
  pressed = null;
  asking = early.asking;
  return early.found;
}

begin();
unfold();
if (history.state) scrollTo(0, history.state.top);
keepTop();
