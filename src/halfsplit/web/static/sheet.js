// What makes the pages quicker where scripts run; every form works without it.
"use strict";

// The card and the suspicions fetch themselves again as long as something is being weighed: soon at first.
const SOONEST_MS = 150, LATEST_MS = 1200;
function refresh(wait = SOONEST_MS) {
  const live = document.getElementById("live");
  if (!live || !live.dataset.refresh) return;
  setTimeout(async () => {
    try {
      const answer = await fetch(live.dataset.refresh, { headers: { Accept: "text/html" } });
      if (answer.ok && !live.contains(document.activeElement)) {
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const fresh = page.getElementById("live");
        if (fresh && fresh.innerHTML !== live.innerHTML) live.replaceWith(document.adoptNode(fresh));
      }
    } catch {
      // no network just now: ask again
    }
    refresh(Math.min(1.5 * wait, LATEST_MS));
  }, wait);
}

// "Take it back" goes when its ten seconds are over.
for (const each of document.querySelectorAll("[data-vanish]")) {
  setTimeout(() => each.remove(), 1000 * Number(each.dataset.vanish));
}

// Long lists are narrowed while somebody writes.
for (const field of document.querySelectorAll("[data-finder]")) {
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

// What is looked at now and then is folded away on a narrow screen.
if (matchMedia("(max-width: 760px)").matches) {
  for (const each of document.querySelectorAll("details[data-fold]")) each.open = false;
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

// One tap is one entry: a form that is on its way is not sent twice.
document.addEventListener("submit", (event) => {
  if (event.target.dataset.sent) event.preventDefault();
  event.target.dataset.sent = "1";
});
addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
});

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
stayAwake();
unfold();
refresh();
