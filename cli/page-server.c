/* SPDX-License-Identifier: MIT */
#include "page-server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <microhttpd.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "json-build.h"
#include "json-read.h"
#include "page-key.h"
#include "page-tap.h"
#include "page-files.inc"

#define PHONES_MAX 64 /* connections; chosen: twenty phones with two each, and room */
#define TAP_MAX 4096  /* bytes of a request, as nodoffd's */
#define IDLE_S 120    /* a connection without a word; chosen */

struct stream {
	struct nod_page *page;
	struct MHD_Connection *connection;
	uint64_t seen; /* the event that is being sent, or was last */
	char *text;    /* what is left of it begins at `sent` */
	size_t length, sent;
	bool suspended;
	struct stream *next;
};

struct request {
	char body[TAP_MAX];
	size_t length;
	bool too_long;
};

struct nod_page {
	struct MHD_Daemon *http;
	const struct nod_page_feed *feed;
	char key[NOD_PAGE_KEY];
	struct stream *streams;
	char *event; /* the last one, as it goes out; NULL: none yet */
	size_t event_length;
	uint64_t events;
	struct nod_taps_known known;
};

/* ---- answers ---- */

static enum MHD_Result answer(struct MHD_Connection *connection, unsigned status, const char *type,
			      struct MHD_Response *response)
{
	static const char *const headers[][2] = {
		{"Content-Security-Policy",
		 "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
		 "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
		{"X-Content-Type-Options", "nosniff"},
		{"Referrer-Policy", "no-referrer"},
		{"Cross-Origin-Resource-Policy", "same-origin"},
		{"Cache-Control", "no-store"},
	};

	if (!response)
		return MHD_NO;
	for (size_t i = 0; i < sizeof(headers) / sizeof(headers[0]); i++)
		MHD_add_response_header(response, headers[i][0], headers[i][1]);
	MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
	enum MHD_Result result = MHD_queue_response(connection, status, response);
	MHD_destroy_response(response);
	return result;
}

static enum MHD_Result answer_text(struct MHD_Connection *connection, unsigned status,
				   const char *text)
{
	return answer(connection, status, "text/plain; charset=utf-8",
		      MHD_create_response_from_buffer(strlen(text), (void *)(intptr_t)text,
						      MHD_RESPMEM_PERSISTENT));
}

static enum MHD_Result answer_json(struct MHD_Connection *connection, unsigned status,
				   json_t *object)
{
	size_t length;
	char *text = object ? nod_json_line(object, &length) : NULL;

	json_decref(object);
	if (!text)
		return answer_text(connection, MHD_HTTP_INTERNAL_SERVER_ERROR, "out of memory\n");
	return answer(connection, status, "application/json",
		      MHD_create_response_from_buffer(length, text, MHD_RESPMEM_MUST_FREE));
}

static enum MHD_Result answer_error(struct MHD_Connection *connection, unsigned status,
				    const char *why)
{
	return answer_json(connection, status, json_pack("{s:o}", "error", nod_json_text(why)));
}

/* ---- events ---- */

/* Begins with the newest event. False: there is none that it has not seen. */
static bool load_event(struct stream *s)
{
	if (s->seen == s->page->events)
		return false;
	char *text = malloc(s->page->event_length);
	if (!text)
		return false; /* with the next one */
	free(s->text);
	s->text = memcpy(text, s->page->event, s->page->event_length);
	s->length = s->page->event_length;
	s->sent = 0;
	s->seen = s->page->events;
	return true;
}

static ssize_t read_stream(void *context, uint64_t position, char *buffer, size_t room)
{
	struct stream *s = context;

	(void)position;
	if (s->sent == s->length && !load_event(s)) {
		s->suspended = true;
		MHD_suspend_connection(s->connection);
		return 0;
	}
	size_t part = s->length - s->sent < room ? s->length - s->sent : room;
	memcpy(buffer, s->text + s->sent, part);
	s->sent += part;
	return (ssize_t)part;
}

static void end_stream(void *context)
{
	struct stream *s = context;
	struct stream **link = &s->page->streams;

	while (*link != s)
		link = &(*link)->next;
	*link = s->next;
	free(s->text);
	free(s);
}

static enum MHD_Result begin_stream(struct nod_page *page, struct MHD_Connection *connection)
{
	struct stream *s = calloc(1, sizeof(*s));
	struct MHD_Response *response;

	if (!s)
		return MHD_NO;
	*s = (struct stream){.page = page, .connection = connection, .next = page->streams};
	page->streams = s;
	response = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 4096, read_stream, s,
						     end_stream);
	if (!response)
		end_stream(s);
	return answer(connection, MHD_HTTP_OK, "text/event-stream", response);
}

void nod_page_show(struct nod_page *page, const char *event, json_t *object)
{
	size_t length;
	char *line = object ? nod_json_line(object, &length) : NULL;
	char *text = NULL;
	int size = -1;

	json_decref(object);
	if (line) /* the line ends itself */
		size = asprintf(&text, "event: %s\ndata: %.*s\n\n", event, (int)strcspn(line, "\n"),
				line);
	free(line);
	if (size < 0)
		return;
	free(page->event);
	page->event = text;
	page->event_length = (size_t)size;
	page->events++;
	for (struct stream *s = page->streams; s; s = s->next)
		if (s->suspended) {
			s->suspended = false;
			MHD_resume_connection(s->connection);
		}
}

/* ---- taps ---- */

static enum MHD_Result take_tap(struct nod_page *page, struct MHD_Connection *connection,
				const struct request *r)
{
	json_t *object = nod_json_read(r->body, r->length, 0);
	struct nod_page_tap tap;
	struct nod_error err = {""};
	const char *id, *fault = object ? nod_page_tap_read(object, &tap, &id)
					: "the request is no JSON object";
	int status = 0;

	if (!fault && !nod_taps_know(&page->known, id)) {
		status = page->feed->tap(page->feed->context, &tap, &err);
		if (!status)
			nod_taps_remember(&page->known, id);
	}
	json_decref(object);
	if (fault || status)
		return answer_error(connection,
				    status == -ENOTCONN ? MHD_HTTP_SERVICE_UNAVAILABLE
							: MHD_HTTP_BAD_REQUEST,
				    fault ? fault : err.text);
	return answer_json(connection, MHD_HTTP_OK, json_pack("{s:b}", "ok", 1));
}

static enum MHD_Result tell_clock(struct nod_page *page, struct MHD_Connection *connection)
{
	nod_time now = page->feed->now(page->feed->context);

	return answer_json(connection, MHD_HTTP_OK,
			   json_pack("{s:I}", "now_ms", (json_int_t)(now.ns / NOD_NS_PER_MS)));
}

/* ---- requests ---- */

static enum MHD_Result give_file(struct MHD_Connection *connection, const char *name)
{
	for (size_t i = 0; i < sizeof(page_files) / sizeof(page_files[0]); i++)
		if (!strcmp(name, page_files[i].name))
			return answer(connection, MHD_HTTP_OK, page_files[i].type,
				      MHD_create_response_from_buffer(
					      page_files[i].length,
					      (void *)(intptr_t)page_files[i].bytes,
					      MHD_RESPMEM_PERSISTENT));
	return answer_text(connection, MHD_HTTP_NOT_FOUND, "There is no such page.\n");
}

static enum MHD_Result get(struct nod_page *page, struct MHD_Connection *connection,
			   const char *name)
{
	if (!strcmp(name, "events"))
		return begin_stream(page, connection);
	if (!strcmp(name, "map"))
		return answer_json(connection, MHD_HTTP_OK, page->feed->map(page->feed->context));
	return give_file(connection, name);
}

static enum MHD_Result post(struct nod_page *page, struct MHD_Connection *connection,
			    const char *name, const struct request *r)
{
	const char *type = MHD_lookup_connection_value(connection, MHD_HEADER_KIND,
						       MHD_HTTP_HEADER_CONTENT_TYPE);

	if (r->too_long)
		return answer_error(connection, MHD_HTTP_CONTENT_TOO_LARGE,
				    "the request is too long");
	if (!strcmp(name, "clock"))
		return tell_clock(page, connection);
	if (strcmp(name, "tap"))
		return answer_text(connection, MHD_HTTP_NOT_FOUND, "There is no such page.\n");
	if (!type || strcmp(type, "application/json")) /* no form of another page can send this */
		return answer_error(connection, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
				    "expected application/json");
	return take_tap(page, connection, r);
}

static void take_body(struct request *r, const char *data, size_t size)
{
	if (size > sizeof(r->body) - r->length) {
		r->too_long = true;
		return;
	}
	memcpy(r->body + r->length, data, size);
	r->length += size;
}

static enum MHD_Result take_request(void *context, struct MHD_Connection *connection,
				    const char *url, const char *method, const char *version,
				    const char *data, size_t *size, void **kept)
{
	struct nod_page *page = context;
	struct request *r = *kept;
	const char *name = *url == '/' ? strchr(url + 1, '/') : NULL;

	(void)version;
	if (!r) {
		*kept = calloc(1, sizeof(*r));
		return *kept ? MHD_YES : MHD_NO;
	}
	if (*size) {
		take_body(r, data, *size);
		*size = 0;
		return MHD_YES;
	}
	if (!name || !nod_page_key_fits(page->key, url + 1, (size_t)(name - url - 1)))
		return answer_text(connection, MHD_HTTP_FORBIDDEN,
				   "This link has ended or was never one. Scan the code that\n"
				   "`nodoff page` shows on the laptop.\n");
	if (!strcmp(method, MHD_HTTP_METHOD_GET) || !strcmp(method, MHD_HTTP_METHOD_HEAD))
		return get(page, connection, name + 1);
	if (!strcmp(method, MHD_HTTP_METHOD_POST))
		return post(page, connection, name + 1, r);
	return answer_text(connection, MHD_HTTP_METHOD_NOT_ALLOWED, "Only GET and POST.\n");
}

static void end_request(void *context, struct MHD_Connection *connection, void **kept,
			enum MHD_RequestTerminationCode how)
{
	(void)context, (void)connection, (void)how;
	free(*kept);
	*kept = NULL;
}

/* ---- life ---- */

struct nod_page *nod_page_open(const struct sockaddr_in *where, const struct nod_page_feed *feed,
			       struct nod_error *err)
{
	struct nod_page *page = calloc(1, sizeof(*page));
	char address[INET_ADDRSTRLEN];

	if (!page || nod_page_key_make(page->key)) {
		free(page);
		nod_error_set(err, ENOMEM, "out of memory");
		return NULL;
	}
	page->feed = feed;
	errno = 0;
	page->http = MHD_start_daemon(MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL,
				      take_request, page, MHD_OPTION_SOCK_ADDR,
				      (const struct sockaddr *)where, MHD_OPTION_CONNECTION_LIMIT,
				      (unsigned)PHONES_MAX, MHD_OPTION_CONNECTION_TIMEOUT,
				      (unsigned)IDLE_S, MHD_OPTION_NOTIFY_COMPLETED, end_request,
				      NULL, MHD_OPTION_LISTENING_ADDRESS_REUSE, 1U, MHD_OPTION_END);
	if (!page->http) {
		int status = errno ? errno : EADDRNOTAVAIL;
		nod_error_set(err, status, "cannot listen on %s port %d: %s",
			      inet_ntop(AF_INET, &where->sin_addr, address, sizeof(address)),
			      ntohs(where->sin_port), strerror(status));
		free(page);
		errno = status;
		return NULL;
	}
	return page;
}

void nod_page_close(struct nod_page *page)
{
	if (!page)
		return;
	for (struct stream *s = page->streams; s; s = s->next)
		if (s->suspended) {
			s->suspended = false;
			MHD_resume_connection(s->connection);
		}
	MHD_stop_daemon(page->http);
	free(page->event);
	free(page);
}

const char *nod_page_key(const struct nod_page *page)
{
	return page->key;
}

int nod_page_port(const struct nod_page *page)
{
	const union MHD_DaemonInfo *info = MHD_get_daemon_info(page->http,
							       MHD_DAEMON_INFO_BIND_PORT);

	return info ? info->port : 0;
}

int nod_page_descriptor(const struct nod_page *page)
{
	const union MHD_DaemonInfo *info = MHD_get_daemon_info(page->http,
							       MHD_DAEMON_INFO_EPOLL_FD);

	return info ? info->epoll_fd : -1;
}

int nod_page_timeout(struct nod_page *page)
{
	MHD_UNSIGNED_LONG_LONG ms;

	return MHD_get_timeout(page->http, &ms) == MHD_YES ? (int)(ms > 1000 ? 1000 : ms) : -1;
}

void nod_page_run(struct nod_page *page)
{
	MHD_run(page->http);
}
