"use strict";
/* The page in the hand: shows the views that come as server-sent events; what is tapped
 * goes to taps.js. */

const NS = 1e9;

/* ---- words ---- */

const two = (n) => String(n).padStart(2, "0");

function timeOfDay(ns) {
	const d = new Date(ns / 1e6);
	return two(d.getHours()) + ":" + two(d.getMinutes()) + ":" + two(d.getSeconds());
}

function length(ns) {
	const s = Math.max(0, Math.floor(ns / NS));
	if (s < 3600)
		return Math.floor(s / 60) + ":" + two(s % 60);
	return Math.floor(s / 3600) + " h " + two(Math.floor((s % 3600) / 60)) + " min";
}

function amperes(microamps) {
	const a = microamps / 1e6;
	return Math.abs(a) < 1 ? (a * 1000).toFixed(0) + " mA" : a.toFixed(2) + " A";
}

function put(element, text) {
	if (element.textContent !== text)
		element.textContent = text;
}

function make(tag, cls, text) {
	const element = document.createElement(tag);
	if (cls)
		element.className = cls;
	if (text !== undefined)
		element.textContent = text;
	return element;
}

function say(text) {
	put(at("waiting"), text);
	setTimeout(showWaiting, 6000);
}

function showWaiting() {
	const n = queue.length;
	put(at("waiting"), n ? n + (n === 1 ? " mark waits" : " marks wait") + " on this phone for the laptop" : "");
}

/* ---- the view ---- */

let view = null;
let map = { fuses: [], modules: [] };
let received = 0;

const now = () => (view ? view.now_ns + (performance.now() - received) * 1e6 * (view.speed || 1) : 0);

function stateOf(n) {
	const late = n.state === "awake" && n.deadline_ns !== null && n.deadline_ns < now();
	if (!n.listening)
		return { word: "not listening", cls: "deaf" };
	return { word: n.state, cls: late ? "late" : n.state === "asleep" ? "asleep" : n.state === "awake" ? "awake" : "" };
}

function timeLeft(n) {
	if (n.state !== "awake" || n.deadline_ns === null || !n.listening)
		return "";
	const left = n.deadline_ns - now();
	return left >= 0 ? length(left) + " to go" : "late by " + length(-left);
}

/* Something is out of the car: what that shows so far, and what the hand is to do. */
function moment() {
	const out = (view.waits || []).at(-1);
	if (!out)
		return null;
	const network = view.networks.find((n) => n.name === out.network);
	const slept = network && network.listening && network.state === "asleep" && network.since_ns >= out.since_ns;
	const left = out.until_ns === null ? 0 : out.until_ns - now();
	const back = "put " + out.subject + " back", leave = "leave " + out.subject + " out";
	if (slept)
		return { head: network.name + " sleeps without " + out.subject, act: (view.next || "").startsWith("Put ") ? back : leave };
	if (out.result === "not off")
		return { head: out.subject + " is out, but what hangs on it still talks", act: "was it " + out.subject + "?" };
	if (out.result === "unchanged")
		return { head: "not " + out.subject + ": nothing changed", act: back };
	return { head: out.subject + " is out" + (left > 0 ? ": wait " + length(left) : ""), act: leave };
}

/* The one line that a glance takes in. */
function headline() {
	const by = (cls) => view.networks.filter((n) => stateOf(n).cls === cls);
	const names = (list) => list.map((n) => n.name).join(", ");
	if (view.moment)
		return view.moment;
	if (by("deaf").length)
		return "not listening to " + names(by("deaf"));
	if (moment())
		return moment().head;
	if (by("awake").length && view.verdict === "cannot tell") {
		const left = Math.max(...by("awake").map((n) => (n.deadline_ns === null ? -1 : n.deadline_ns - now())));
		return left < 0 ? names(by("awake")) + " awake" : "settling: wait " + length(left);
	}
	if (["kept awake", "woken again"].includes(view.verdict) && by("asleep").length === view.networks.length)
		return "asleep now, " + view.verdict + " before";
	return view.verdict + (by("late").length ? ": " + names(by("late")) : "");
}

function networkRow(n, row) {
	const state = stateOf(n);
	row.className = state.cls;
	put(row.children[0], n.name);
	put(row.children[1], state.word);
	put(row.children[2], n.since_ns === null ? "" : "for " + length(now() - n.since_ns));
	put(row.children[3], timeLeft(n));
}

function showNetworks() {
	const list = at("networks");
	while (list.children.length > view.networks.length)
		list.lastChild.remove();
	while (list.children.length < view.networks.length) {
		const row = make("li");
		row.append(make("span", "name"), make("span", "state"), make("span", "since"), make("span", "left"));
		list.append(row);
	}
	view.networks.forEach((n, i) => networkRow(n, list.children[i]));
}

function showNext() {
	const first = (view.proposals || [])[0];
	put(at("next"), (view.next || "-").replace(/ Mark it: isolated [^.]*\.$/, "")); /* a button does */
	put(at("where"), moment() ? moment().act : first && first.fuse && (view.next || "").includes("Isolate fuse " + first.fuse) ? "pull " + first.fuse + (first.box ? ", " + first.box : "") : "");
	const cautions = view.cautions || [];
	const list = at("cautions");
	if (list.dataset.shown !== JSON.stringify(cautions)) {
		list.dataset.shown = JSON.stringify(cautions);
		list.replaceChildren(...cautions.map((c) => make("li", "", c)));
	}
}

function showMarks() {
	const marks = (view.marks || []).map((m) => {
		const text = timeOfDay(m.time_ns) + "  " + m.kind + (m.subject ? " " + m.subject : "");
		return make("li", m.undone ? "gone" : "", text);
	});
	at("marks").replaceChildren(...marks.reverse());
}

function showAsks() {
	const asks = view.questions || [];
	const box = at("asks");
	if (box.dataset.shown === JSON.stringify(asks))
		return;
	box.dataset.shown = JSON.stringify(asks);
	box.replaceChildren(...asks.map((ask) => {
		const card = make("div", "ask");
		card.append(make("p", "", ask.text));
		const row = make("div", "row");
		for (const answer of ask.answers) {
			const button = make("button", "", answer.label);
			button.type = "button";
			button.addEventListener("click", () => {
				card.remove();
				if (answer.another)
					askSubject("isolated", { time_ns: ask.time_ns });
				else
					tap(answer.kind, answer.subject || "", { time_ns: answer.time_ns || ask.time_ns });
			});
			row.append(button);
		}
		card.append(row);
		return card;
	}));
}

function show() {
	const suspects = view.suspects || [];
	put(at("clock"), timeOfDay(now()));
	put(at("verdict"), headline());
	put(at("sentence"), view.sentence || "");
	const states = view.networks.map((n) => stateOf(n).cls);
	at("head").className = "head " + (["deaf", "late", "awake", "asleep"].find((s) => states.includes(s)) || "").replace("deaf", "late");
	showNetworks();
	const c = view.current;
	put(at("current"), c ? amperes(c.microamps) + (now() - c.time_ns > 5 * NS ? ", " + length(now() - c.time_ns) + " ago" : "") : "");
	put(at("suspect"), suspects.length ? suspects[0].name + " " + Math.round(100 * suspects[0].probability) + " %" : "nobody");
	showNext();
	showMarks();
	showAsks();
}

/* ---- sound and vibration ---- */

let sound = null;
const rings = { asleep: [660, 440], awake: [440, 660], late: [880, 880, 880], deaf: [220, 220] };

function ring(what) {
	if (navigator.vibrate && sound)
		navigator.vibrate(rings[what].flatMap(() => [180, 90]));
	if (!sound)
		return;
	rings[what].forEach((hertz, i) => {
		const tone = sound.createOscillator(), gain = sound.createGain();
		tone.frequency.value = hertz;
		gain.gain.value = 0.2;
		tone.connect(gain).connect(sound.destination);
		tone.start(sound.currentTime + 0.25 * i);
		tone.stop(sound.currentTime + 0.25 * i + 0.18);
	});
	document.documentElement.dataset.rang = what;
}

let before = new Map();

function ringForChanges() {
	const states = new Map(view.networks.map((n) => [n.name, stateOf(n).cls]));
	for (const [name, state] of states)
		if (before.has(name) && before.get(name) !== state && rings[state])
			ring(state);
	before = states;
}

at("bell").addEventListener("click", () => {
	if (sound) {
		sound.close();
		sound = null;
	} else {
		sound = new (window.AudioContext || window.webkitAudioContext)();
		ring("asleep");
	}
	at("bell").setAttribute("aria-pressed", String(!!sound));
	put(at("bell"), sound ? "sound on" : "sound off");
});

/* ---- the sheet: what is to be said with a tap ---- */

const sheet = at("sheet");
let finish = null;

function openSheet(title, text, choices, label, done) {
	finish = done;
	put(at("sheet-title"), title);
	put(at("sheet-text"), text);
	at("sheet-text").hidden = !text;
	at("sheet-choices").replaceChildren(...choices.map((choice) => {
		const button = make("button", (choice.first ? "first " : "") + (choice.note ? "wide" : ""), choice.label);
		button.type = "button";
		if (choice.note)
			button.append(make("small", "", choice.note));
		button.addEventListener("click", () => closeSheet(choice.value));
		return button;
	}));
	for (const id of ["sheet-label", "sheet-typed"])
		at(id).hidden = !label;
	put(at("sheet-label"), label || "");
	at("sheet-typed").value = "";
	at("sheet-ok").hidden = !label;
	sheet.showModal();
}

function closeSheet(value) {
	const done = finish;
	finish = null;
	sheet.close();
	if (done && value !== null && value !== "")
		done(value);
}

at("sheet-form").addEventListener("submit", (event) => {
	event.preventDefault();
	closeSheet(at("sheet-typed").value.trim());
});
at("sheet-cancel").addEventListener("click", () => closeSheet(null));

/* Fuses of the map: the proposed ones first, with box and cautions; for "put back" those
 * that are out. */
function fuseChoices(kind) {
	const proposed = ((view && view.proposals) || []).map((p) => p.fuse).filter(Boolean);
	const out = outNow();
	const names = map.fuses.map((f) => f.name);
	const ordered = kind === "refitted" ? out : [...new Set([...proposed, ...names])].filter((n) => !out.includes(n));
	return ordered.map((name, i) => {
		const fuse = map.fuses.find((f) => f.name === name) || { cautions: [] };
		const cautions = (fuse.cautions || []).join(", ");
		const note = [fuse.box, cautions ? "caution: " + cautions : ""].filter(Boolean).join("; ");
		return { value: name, label: name, first: i === 0 && (kind === "refitted" || proposed.includes(name)), note: i === 0 || cautions ? note : "" };
	});
}

function outNow() {
	return (view && view.out) || [];
}

const wording = {
	isolated: ["What is pulled?", "another fuse, plug or module"],
	refitted: ["What is put back?", "another fuse, plug or module"],
	touched: ["What is worked on?", "input, as: tailgate switch"],
	reading: ["What does the meter read?", "where and value, as: F12 2.3 mV"],
	note: ["Note", "text"],
};

/* What is chosen afterwards belongs to the moment at which the button was pressed. */
function askSubject(kind, more) {
	const pressed = { tapped_ms: Date.now(), ...more };
	const choices = kind === "isolated" || kind === "refitted" ? fuseChoices(kind)
		: kind === "touched" ? map.inputs.map((i) => ({ value: i, label: i })) : [];
	openSheet(wording[kind][0], "", choices, wording[kind][1], (value) => tap(kind, value, pressed));
}

at("buttons").addEventListener("click", (event) => {
	const { mark, ask, sure, undo } = event.target.dataset;
	const pressed = { tapped_ms: Date.now() };
	if (mark)
		tap(mark, "", pressed);
	if (ask)
		askSubject(ask);
	if (sure)
		openSheet("Unlocked?", "This ends the watch: the settle clock starts again with the next lock.",
			[{ value: sure, label: "yes, unlocked" }], "", () => tap(sure, "", pressed));
	if (undo) {
		const last = [...((view && view.marks) || [])].reverse().find((m) => !m.undone);
		if (last)
			openSheet("Take back?", timeOfDay(last.time_ns) + " " + last.kind + " " + last.subject,
				[{ value: "undo", label: "take it back" }], "", () => tap("undo", "", pressed));
	}
});

/* ---- the connection ---- */

let events = null, reachable = false;

function lost(text) {
	reachable = false;
	at("link").classList.add("lost");
	put(at("link"), text);
}

function connect() {
	if (events)
		events.close();
	events = new EventSource("events");
	events.addEventListener("view", (event) => {
		view = JSON.parse(event.data);
		received = performance.now();
		at("link").classList.remove("lost");
		put(at("link"), view.session && view.session.recording ? "recording" : view.practice ? "practice" : "NOT recording");
		if (!reachable) {
			reachable = true;
			measure().then(readMap).then(deliver).catch(() => {});
		}
		ringForChanges();
		show();
	});
	events.addEventListener("gone", (event) => lost(JSON.parse(event.data).error));
	events.onerror = () => {
		lost("laptop out of reach");
		if (events.readyState === EventSource.CLOSED)
			checkKey();
	};
}

async function readMap() {
	const answer = await fetch("map");
	if (answer.ok)
		map = await answer.json();
}

/* The stream was refused, not cut: a restarted page has another key. */
async function checkKey() {
	try {
		const answer = await fetch("clock", { method: "POST" });
		if (answer.status === 403)
			lost("this link has ended: scan the code on the laptop again");
		else
			setTimeout(connect, 2000);
	} catch (error) {
		setTimeout(connect, 2000);
	}
}

setInterval(() => {
	if (view)
		show();
}, 1000);
setInterval(deliver, 3000);
addEventListener("online", deliver);
document.addEventListener("visibilitychange", () => {
	if (!document.hidden) {
		offset.trip = Infinity; /* the phone slept: its clock may have been set */
		connect();
		deliver();
	}
});
showWaiting();
connect();
