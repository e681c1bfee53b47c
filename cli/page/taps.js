"use strict";
/* What the person taps goes into a queue of this phone: each tap has its own moment and
 * name, goes out in order, and waits while the laptop is out of reach. */

const at = (id) => document.getElementById(id);
const store = (() => {
	try {
		localStorage.setItem("nodoff-try", "1");
		return localStorage;
	} catch (error) {
		return { getItem: () => null, setItem: () => {} };
	}
})();

/* ---- clocks ---- */

/* The laptop's clock minus the phone's, ms: from the quickest of the exchanges, as in
 * RFC 5905 section 8 with both of the server's times the same. */
const offset = { ms: 0, trip: Infinity };

async function measure() {
	let best = { ms: 0, trip: Infinity };
	for (let i = 0; i < 4; i++) {
		const sent = Date.now(), from = performance.now();
		const answer = await fetch("clock", { method: "POST" });
		if (!answer.ok)
			throw new Error("refused");
		const trip = performance.now() - from;
		const now = (await answer.json()).now_ms;
		if (trip < best.trip)
			best = { ms: now - (sent + trip / 2), trip };
	}
	Object.assign(offset, best);
}

/* ---- the queue ---- */

let queue = JSON.parse(store.getItem("nodoff-queue") || "[]");
let counter = 0;
let sending = false;
const phone = Array.from(crypto.getRandomValues(new Uint32Array(2)), (n) => n.toString(36)).join("");

function keep() {
	store.setItem("nodoff-queue", JSON.stringify(queue));
	showWaiting();
}

function tap(kind, subject, more) {
	queue.push({ id: phone + "-" + counter++, kind, subject, tapped_ms: Date.now(), ...more });
	keep();
	deliver();
}

/* Its time is fixed when it is first sent, so that a copy is known as one. */
function fix(mark) {
	if (mark.time_ms === undefined)
		mark.time_ms = Math.round(mark.tapped_ms + offset.ms);
	keep();
	return mark;
}

async function deliver() {
	if (sending)
		return;
	sending = true;
	try {
		while (queue.length) {
			if (offset.trip === Infinity)
				await measure();
			const answer = await fetch("tap", {
				method: "POST",
				headers: { "Content-Type": "application/json" },
				body: JSON.stringify(fix(queue[0])),
			});
			if (answer.status === 403)
				break;
			const said = await answer.json();
			if (answer.status === 503)
				break; /* the page is there, nodoffd is not */
			if (!answer.ok)
				say("NOT in the journal: " + queue[0].kind + " " + queue[0].subject + ": " + said.error);
			queue.shift();
			keep();
		}
	} catch (error) {
		/* out of reach: it stays in the queue */
	}
	sending = false;
}
