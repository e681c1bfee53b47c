#include "interface.h"

#include <errno.h>
#include <libsocketcan.h>
#include <string.h>

enum nod_interface_use nod_interface_judge(const struct nod_link *link,
					   const struct nod_interface_settings *settings,
					   struct nod_error *why)
{
	nod_error_set(why, 0, "%s", "");
	if (!link->up)
		return NOD_USE_SET_UP;
	if (nod_link_is_virtual(link)) {
		nod_error_set(why, 0, "%s is virtual: it has no controller and no mode", link->name);
		return NOD_USE_READY;
	}
	if (!link->has_mode) {
		nod_error_set(why, 0, "%s does not say whether it is listen-only; it is not used",
			      link->name);
		return NOD_USE_REFUSED;
	}
	if (!link->listen_only) {
		nod_error_set(why, 0,
			      "%s is up and acknowledges frames, which can keep the network awake; "
			      "it is not used. Switch it off (ip link set %s down) and it is set up "
			      "listen-only", link->name, link->name);
		return NOD_USE_REFUSED;
	}
	if (link->bitrate != settings->bitrate) {
		nod_error_set(why, 0,
			      "%s is up with %u bit/s, not %u; it is not used. Switch it off "
			      "(ip link set %s down) and it is set up anew", link->name,
			      link->bitrate, settings->bitrate, link->name);
		return NOD_USE_REFUSED;
	}
	return NOD_USE_READY;
}

/* libsocketcan returns -1 and leaves the kernel's word in errno, or 0 there
 * when it does not know. */
static int failed(const struct nod_link *link, const char *what, struct nod_error *err)
{
	int code = errno ? errno : EIO;

	return nod_error_set(err, code, "%s: cannot %s: %s%s", link->name, what, strerror(code),
			     code == EPERM ? " (needs CAP_NET_ADMIN)" : "");
}

static int set_mode(const struct nod_link *link)
{
	/* Loopback and one-shot are cleared, listen-only set. Reports of single
	 * bus errors are wanted too, which not every controller can give. */
	struct can_ctrlmode mode = {
		.mask = CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_LOOPBACK | CAN_CTRLMODE_BERR_REPORTING,
		.flags = CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_BERR_REPORTING,
	};

	if (!can_set_ctrlmode(link->name, &mode))
		return 0;
	mode.mask = mode.flags = CAN_CTRLMODE_LISTENONLY;
	return can_set_ctrlmode(link->name, &mode);
}

int nod_interface_set_up(const struct nod_link *link, const struct nod_interface_settings *settings,
			 struct nod_error *err)
{
	errno = 0;
	if (!nod_link_is_virtual(link)) {
		if (set_mode(link))
			return failed(link, "set listen-only", err);
		if (can_set_bitrate(link->name, settings->bitrate))
			return failed(link, "set the bitrate", err);
		if (can_set_restart_ms(link->name, NOD_RESTART_MS) && errno != EOPNOTSUPP)
			return failed(link, "set the restart time", err);
	}
	if (can_do_start(link->name))
		return failed(link, "switch it on", err);
	return 0;
}

int nod_interface_set_down(const char *name, struct nod_error *err)
{
	errno = 0;
	if (can_do_stop(name))
		return nod_error_set(err, errno ? errno : EIO, "%s: cannot switch it off: %s", name,
				     strerror(errno ? errno : EIO));
	return 0;
}
