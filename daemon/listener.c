/* SPDX-License-Identifier: MIT */
#include "listener.h"

#include <errno.h>
#include <time.h> /* before errqueue.h, which needs it */

#include <linux/can.h>
#include <linux/can/error.h>
#include <linux/can/raw.h>
#include <linux/errqueue.h>
#include <linux/net_tstamp.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "clock-watch.h"
#include "lockdown.h"

/* Frames taken with one system call. Chosen: a call costs about as much as
 * ten frames; more than 64 saves nothing that can be measured. */
#define BATCH 64

/* What the kernel may hold for us, bytes. A frame costs it about 1 KiB with
 * its bookkeeping, so this is about a second of a full 1 Mbit/s network. */
#define RECEIVE_BUFFER (8 * 1024 * 1024)

struct batch {
	struct canfd_frame frames[BATCH];
	struct iovec vectors[BATCH];
	struct mmsghdr messages[BATCH];
	/* the time stamps and the drop counter, with room to spare */
	_Alignas(struct cmsghdr) char control[BATCH][128];
};

const char *nod_stamp_clock_name(enum nod_stamp_clock clock)
{
	switch (clock) {
	case NOD_STAMP_KERNEL:
		return "kernel receive time";
	case NOD_STAMP_HARDWARE:
		return "adapter's own time on the system clock";
	default:
		return "not known yet";
	}
}

static int set_option(int fd, int level, int name, int value)
{
	return setsockopt(fd, level, name, &value, sizeof(value));
}

static int set_options(int fd)
{
	can_err_mask_t errors = CAN_ERR_MASK;
	int stamps = SOF_TIMESTAMPING_RX_HARDWARE | SOF_TIMESTAMPING_RAW_HARDWARE |
		     SOF_TIMESTAMPING_RX_SOFTWARE | SOF_TIMESTAMPING_SOFTWARE;

	if (set_option(fd, SOL_SOCKET, SO_RCVBUFFORCE, RECEIVE_BUFFER))
		set_option(fd, SOL_SOCKET, SO_RCVBUF,
			   RECEIVE_BUFFER); /* cut to the limit for users */
	if (set_option(fd, SOL_CAN_RAW, CAN_RAW_FD_FRAMES, 1) ||
	    set_option(fd, SOL_SOCKET, SO_RXQ_OVFL, 1) ||
	    set_option(fd, SOL_SOCKET, SO_TIMESTAMPING, stamps) ||
	    setsockopt(fd, SOL_CAN_RAW, CAN_RAW_ERR_FILTER, &errors, sizeof(errors)))
		return -errno;
	return 0;
}

/* Hears everything, or nothing. */
static int set_filter(int fd, bool hear)
{
	struct can_filter all = {0, 0};

	return setsockopt(fd, SOL_CAN_RAW, CAN_RAW_FILTER, &all, hear ? sizeof(all) : 0);
}

int nod_listener_open(struct nod_listener *listener, uint8_t interface, size_t lane,
		      struct nod_error *err)
{
	int status, fd = socket(PF_CAN, SOCK_RAW | SOCK_CLOEXEC | SOCK_NONBLOCK, CAN_RAW);

	memset(listener, 0, sizeof(*listener));
	listener->interface = interface;
	listener->lane = lane;
	listener->fd = -1;
	if (fd < 0)
		return nod_error_set(err, errno, "cannot open a CAN socket: %s%s", strerror(errno),
				     errno == EAFNOSUPPORT ? " (this kernel has no CAN)" : "");
	fd = nod_lockdown_reserve(fd);
	if (fd < 0)
		return nod_error_set(err, -fd, "cannot move a CAN socket: %s", strerror(-fd));
	status = set_options(fd);
	if (status) {
		close(fd);
		return nod_error_set(err, -status, "cannot set a CAN socket up: %s",
				     strerror(-status));
	}
	listener->fd = fd;
	return 0;
}

void nod_listener_renew(struct nod_listener *listener)
{
	*listener = (struct nod_listener){.fd = listener->fd,
					  .interface = listener->interface,
					  .lane = listener->lane,
					  .dropped = listener->dropped};
}

void nod_listener_close(struct nod_listener *listener)
{
	if (listener->fd >= 0)
		close(listener->fd);
	listener->fd = -1;
}

int nod_listener_bind(struct nod_listener *listener, int link, bool virtual_link)
{
	struct sockaddr_can address = {.can_family = AF_CAN, .can_ifindex = link};

	if (link <= 0) /* 0 would hear every interface */
		return -EINVAL;
	if (set_filter(listener->fd, true) ||
	    bind(listener->fd, (struct sockaddr *)&address, sizeof(address)))
		return -errno;
	listener->link = link;
	listener->virtual_link = virtual_link;
	listener->bus_off = false;
	listener->hardware.running = false;
	return 0;
}

void nod_listener_mute(struct nod_listener *listener)
{
	struct canfd_frame frame;

	set_filter(listener->fd, false);
	listener->link = 0;
	while (recv(listener->fd, &frame, sizeof(frame), MSG_DONTWAIT) > 0)
		continue;
}

static void prepare(struct batch *batch)
{
	for (unsigned i = 0; i < BATCH; i++) {
		batch->vectors[i] = (struct iovec){&batch->frames[i], sizeof(batch->frames[i])};
		batch->messages[i].msg_hdr = (struct msghdr){
			.msg_iov = &batch->vectors[i],
			.msg_iovlen = 1,
			.msg_control = batch->control[i],
			.msg_controllen = sizeof(batch->control[i]),
		};
	}
}

static nod_time from_timespec(const struct timespec *ts)
{
	if (!ts->tv_sec && !ts->tv_nsec)
		return NOD_TIME_NONE;
	return (nod_time){ts->tv_sec * NOD_NS_PER_S + ts->tv_nsec};
}

/* What the kernel says beside a frame. */
struct beside {
	nod_time software, hardware;
	uint32_t dropped;
};

static struct beside read_control(struct msghdr *header, uint32_t dropped_before)
{
	struct beside beside = {NOD_TIME_NONE, NOD_TIME_NONE, dropped_before};
	struct scm_timestamping stamps;

	for (struct cmsghdr *c = CMSG_FIRSTHDR(header); c; c = CMSG_NXTHDR(header, c)) {
		if (c->cmsg_level != SOL_SOCKET)
			continue;
		if (c->cmsg_type == SO_TIMESTAMPING) {
			memcpy(&stamps, CMSG_DATA(c), sizeof(stamps));
			beside.software = from_timespec(&stamps.ts[0]);
			beside.hardware = from_timespec(&stamps.ts[2]);
		} else if (c->cmsg_type == SO_RXQ_OVFL) {
			memcpy(&beside.dropped, CMSG_DATA(c), sizeof(beside.dropped));
		}
	}
	return beside;
}

static nod_time stamp(struct nod_listener *listener, const struct beside *beside)
{
	if (nod_time_is_set(beside->hardware) && nod_time_is_set(beside->software)) {
		listener->clock = NOD_STAMP_HARDWARE;
		return nod_hardware_clock_map(&listener->hardware, beside->hardware,
					      beside->software);
	}
	listener->clock = NOD_STAMP_KERNEL;
	return nod_time_is_set(beside->software) ? beside->software : nod_clock_now();
}

static bool tell_loss(struct nod_listener *listener, struct nod_merger *merger, uint32_t count,
		      nod_time time)
{
	struct nod_event *event = nod_merger_reserve(merger, listener->lane);

	if (!event)
		return false;
	event->kind = NOD_EVENT_LOSS;
	event->time = time;
	event->loss.interface = listener->interface;
	event->loss.count = count;
	nod_merger_commit(merger, listener->lane);
	return true;
}

/* Frames were lost before `time`; count 0: nobody knows how many. */
static void note_loss(struct nod_listener *listener, struct nod_merger *merger, uint32_t count,
		      nod_time time)
{
	listener->lost += count ? count : 1;
	if (!tell_loss(listener, merger, count, time))
		listener->untold += count ? count : 1;
}

static uint8_t frame_flags(const struct nod_listener *listener, const struct mmsghdr *message,
			   const struct canfd_frame *raw)
{
	uint8_t flags = 0;

	if (message->msg_len == CANFD_MTU)
		flags |= (uint8_t)((raw->flags & (CANFD_BRS | CANFD_ESI)) | NOD_FRAME_FD);
	if ((message->msg_hdr.msg_flags & MSG_DONTROUTE) && !listener->virtual_link)
		flags |= NOD_FRAME_SENT; /* by another program on this machine */
	return flags;
}

static void copy_payload(struct nod_frame *frame, const struct canfd_frame *raw, size_t size)
{
	uint8_t room = size == CAN_MTU ? CAN_MAX_DLEN : CANFD_MAX_DLEN;
	uint8_t dlc = size == CAN_MTU ? ((const struct can_frame *)raw)->len8_dlc : 0;

	frame->length = raw->len < room ? raw->len : room;
	frame->raw_dlc = frame->length == CAN_MAX_DLEN && dlc > CAN_MAX_DLEN &&
					 dlc <= CAN_MAX_RAW_DLC
				 ? dlc
				 : 0;
	memset(frame->data, 0, CAN_MAX_DLEN);
	memcpy(frame->data, raw->data, frame->length);
}

static void watch_errors(struct nod_listener *listener, uint32_t id)
{
	if (!(id & CAN_ERR_FLAG)) {
		listener->bus_off = false;
		return;
	}
	listener->errors++;
	if (id & CAN_ERR_BUSOFF)
		listener->bus_off = true;
	else if (id & CAN_ERR_RESTARTED)
		listener->bus_off = false;
}

/* The controller says that it had no room for a frame. */
static bool is_overflow(const struct canfd_frame *raw)
{
	return (raw->can_id & CAN_ERR_FLAG) && (raw->can_id & CAN_ERR_CRTL) &&
	       (raw->data[1] & CAN_ERR_CRTL_RX_OVERFLOW);
}

static void count_tried(struct nod_listener *listener, const struct canfd_frame *raw)
{
	if (raw->can_id & CAN_ERR_FLAG)
		listener->tried.errors++;
	else
		listener->tried.frames++;
}

static void deliver(struct nod_listener *listener, struct nod_merger *merger,
		    struct mmsghdr *message, const struct canfd_frame *raw)
{
	struct beside beside = read_control(&message->msg_hdr, listener->dropped);
	nod_time time = nod_clock_to_microseconds(stamp(listener, &beside));
	struct nod_event *event;

	if (message->msg_len != CAN_MTU && message->msg_len != CANFD_MTU)
		return;
	if (listener->trying) {
		listener->dropped = beside.dropped;
		count_tried(listener, raw);
		return;
	}
	if (beside.dropped != listener->dropped) /* the counter may wrap */
		note_loss(listener, merger, beside.dropped - listener->dropped, time);
	listener->dropped = beside.dropped;
	if (is_overflow(raw))
		note_loss(listener, merger, 0, time);
	event = nod_merger_reserve(merger, listener->lane);
	watch_errors(listener, raw->can_id);
	if (!event) {
		listener->lost++;
		listener->untold++;
		return;
	}
	event->kind = NOD_EVENT_FRAME;
	event->time = event->frame.time = time;
	event->frame.id = raw->can_id;
	event->frame.flags = frame_flags(listener, message, raw);
	event->frame.interface = listener->interface;
	copy_payload(&event->frame, raw, message->msg_len);
	nod_merger_commit(merger, listener->lane);
	listener->frames++;
}

static int read_batch(struct nod_listener *listener, struct nod_merger *merger, unsigned most)
{
	struct batch batch;
	int received;

	prepare(&batch);
	received = recvmmsg(listener->fd, batch.messages, most, MSG_DONTWAIT, NULL);
	if (received < 0)
		return errno == EAGAIN || errno == EINTR ? 0 : -errno;
	for (int i = 0; i < received; i++)
		deliver(listener, merger, &batch.messages[i], &batch.frames[i]);
	return received;
}

int nod_listener_read(struct nod_listener *listener, struct nod_merger *merger, unsigned most)
{
	unsigned total = 0, asked = 0;
	int received = 0;

	while (total < most && received == (int)asked) {
		asked = most - total < BATCH ? most - total : BATCH;
		received = read_batch(listener, merger, asked);
		total += received > 0 ? (unsigned)received : 0;
	}
	if (listener->untold && tell_loss(listener, merger, listener->untold,
					  nod_clock_to_microseconds(nod_clock_now())))
		listener->untold = 0;
	return received < 0 ? received : (int)total;
}
