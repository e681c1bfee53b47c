/* SPDX-License-Identifier: MIT */
/* The page as a client of nodoffd: views from its socket, taps into its journal. */
#include <errno.h>
#include <poll.h>
#include <stdbool.h>
#include <string.h>

#include "client.h"
#include "clock-watch.h"
#include "json-build.h"
#include "page-server.h"
#include "page.h"

#define RETRY_MS 1000 /* while nodoffd cannot be reached */

struct live {
	const struct nod_page_options *options;
	struct nod_page *page;
	struct nod_client *client; /* NULL: out of reach */
};

static void lose(struct live *live, const char *why)
{
	nod_client_close(live->client);
	live->client = NULL;
	nod_page_show(live->page, "gone", json_pack("{s:o}", "error", nod_json_text(why)));
}

static void reach(struct live *live)
{
	struct nod_error err = {""};
	json_t *view = NULL;

	live->client = nod_client_open(live->options->socket, &err);
	if (live->client)
		view = nod_client_request(live->client, "watch", json_object(), &err);
	if (view)
		nod_page_show(live->page, "view", view);
	else
		lose(live, err.text);
}

/* ---- for the phones ---- */

static int tap(void *context, const struct nod_page_tap *t, struct nod_error *err)
{
	struct live *live = context;
	bool undo = !strcmp(t->kind, "undo");
	json_t *request = undo ? json_object()
			       : json_pack("{s:s, s:s, s:I}", "kind", t->kind, "subject",
					   t->subject, "time_ns", (json_int_t)t->time.ns);

	if (!live->client) {
		json_decref(request);
		return nod_error_set(err, ENOTCONN, "nodoffd is out of reach");
	}
	json_t *answer = nod_client_request(live->client, undo ? "undo" : "mark", request, err);
	int status = errno;
	if (answer) {
		json_decref(answer);
		return 0;
	}
	if (status == EPROTO)
		return -EPROTO;
	lose(live, err->text);
	return -ENOTCONN;
}

static nod_time now(void *context)
{
	(void)context;
	return nod_clock_now();
}

static json_t *map(void *context)
{
	struct live *live = context;
	struct nod_error err = {""};
	json_t *answer = NULL;

	if (live->client)
		answer = nod_client_request(live->client, "map", json_object(), &err);
	return answer ? answer : json_pack("{s:[], s:[], s:[]}", "fuses", "modules", "inputs");
}

/* ---- the loop ---- */

/* Shows the newest of the views that are there. */
static void take_views(struct live *live)
{
	struct nod_error err = {""};
	json_t *newest = NULL, *view;
	int status;

	while ((status = nod_client_event(live->client, 0, &view, &err)) > 0) {
		json_decref(newest);
		newest = view;
	}
	if (newest)
		nod_page_show(live->page, "view", newest);
	if (status < 0)
		lose(live, err.text);
}

static void serve(struct live *live)
{
	while (!nod_page_is_over()) {
		int timeout = nod_page_timeout(live->page);
		struct pollfd waiting[2] = {
			{nod_page_descriptor(live->page), POLLIN, 0},
			{live->client ? nod_client_descriptor(live->client) : -1, POLLIN, 0}};
		if (timeout < 0 || timeout > RETRY_MS)
			timeout = RETRY_MS;
		int ready = poll(waiting, 2, timeout);
		if (live->client)
			take_views(live);
		else if (!ready)
			reach(live);
		nod_page_run(live->page);
	}
}

int nod_page_live(const struct nod_page_options *options, nod_page_ready *ready,
		  struct nod_error *err)
{
	struct live live = {.options = options};
	const struct nod_page_feed feed = {&live, tap, now, map};

	live.client = nod_client_open(options->socket, err);
	if (!live.client)
		return -errno;
	nod_client_close(live.client);
	live.page = nod_page_open(&options->where, &feed, err);
	if (!live.page)
		return -errno;
	reach(&live);
	nod_page_tell(live.page, options, ready);
	serve(&live);
	nod_client_close(live.client);
	nod_page_close(live.page);
	return 0;
}
