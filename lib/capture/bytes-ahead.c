/* SPDX-License-Identifier: MIT */
#include "bytes-ahead.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* Bytes handed over together, and how many times that may wait. Chosen: waking a thread
 * costs little beside unpacking a block; all stay in a second-level cache. */
#define BLOCK ((size_t)128 * 1024)
#define BLOCKS 4u

struct block {
	unsigned char bytes[BLOCK];
	size_t length;
	ptrdiff_t status; /* 1: more may come; 0 or negative: what read() said behind the bytes */
};

struct nod_bytes_ahead {
	nod_read_function *read;
	void *context;
	pthread_t thread;
	pthread_mutex_t lock;
	pthread_cond_t changed;
	unsigned long filled, emptied; /* blocks so far; the thread's, the caller's */
	bool stop;

	const struct block *current; /* the caller's; NULL: it holds none */
	size_t taken;                /* of it */
	struct block blocks[BLOCKS];
};

/* As much as the block holds, or until read() says that it is over. */
static void fill(struct nod_bytes_ahead *ahead, struct block *block)
{
	block->length = 0;
	block->status = 1;
	while (block->length < BLOCK && block->status > 0) {
		block->status = ahead->read(ahead->context, block->bytes + block->length,
					    BLOCK - block->length);
		if (block->status > 0)
			block->length += (size_t)block->status;
	}
}

/* False when nothing more is wanted. */
static bool await_room(struct nod_bytes_ahead *ahead)
{
	pthread_mutex_lock(&ahead->lock);
	while (ahead->filled - ahead->emptied == BLOCKS && !ahead->stop)
		pthread_cond_wait(&ahead->changed, &ahead->lock);
	bool go_on = !ahead->stop;
	pthread_mutex_unlock(&ahead->lock);
	return go_on;
}

static void *run(void *context)
{
	struct nod_bytes_ahead *ahead = context;

	for (ptrdiff_t status = 1; status > 0 && await_room(ahead);) {
		struct block *block = &ahead->blocks[ahead->filled % BLOCKS];
		fill(ahead, block);
		status = block->status;
		pthread_mutex_lock(&ahead->lock);
		ahead->filled++;
		pthread_cond_signal(&ahead->changed);
		pthread_mutex_unlock(&ahead->lock);
	}
	return NULL;
}

/* The next block; one that says how it ended is kept. */
static const struct block *await_block(struct nod_bytes_ahead *ahead)
{
	pthread_mutex_lock(&ahead->lock);
	if (ahead->current) {
		ahead->emptied++;
		pthread_cond_signal(&ahead->changed);
	}
	while (ahead->filled == ahead->emptied)
		pthread_cond_wait(&ahead->changed, &ahead->lock);
	const struct block *block = &ahead->blocks[ahead->emptied % BLOCKS];
	pthread_mutex_unlock(&ahead->lock);
	return block;
}

ptrdiff_t nod_bytes_ahead_read(struct nod_bytes_ahead *ahead, void *buf, size_t size)
{
	while (!ahead->current || ahead->taken == ahead->current->length) {
		if (ahead->current && ahead->current->status <= 0)
			return ahead->current->status;
		ahead->current = await_block(ahead);
		ahead->taken = 0;
	}
	size_t n = ahead->current->length - ahead->taken;
	if (n > size)
		n = size;
	memcpy(buf, ahead->current->bytes + ahead->taken, n);
	ahead->taken += n;
	return (ptrdiff_t)n;
}

struct nod_bytes_ahead *nod_bytes_ahead_new(nod_read_function *read, void *context)
{
	struct nod_bytes_ahead *ahead = malloc(sizeof(*ahead));

	if (!ahead)
		return NULL;
	memset(ahead, 0, offsetof(struct nod_bytes_ahead, blocks));
	ahead->read = read;
	ahead->context = context;
	pthread_mutex_init(&ahead->lock, NULL);
	pthread_cond_init(&ahead->changed, NULL);
	if (!pthread_create(&ahead->thread, NULL, run, ahead))
		return ahead;
	pthread_mutex_destroy(&ahead->lock);
	pthread_cond_destroy(&ahead->changed);
	free(ahead);
	return NULL;
}

void nod_bytes_ahead_free(struct nod_bytes_ahead *ahead)
{
	if (!ahead)
		return;
	pthread_mutex_lock(&ahead->lock);
	ahead->stop = true;
	pthread_cond_signal(&ahead->changed);
	pthread_mutex_unlock(&ahead->lock);
	pthread_join(ahead->thread, NULL);
	pthread_mutex_destroy(&ahead->lock);
	pthread_cond_destroy(&ahead->changed);
	free(ahead);
}
