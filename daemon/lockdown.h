/* SPDX-License-Identifier: MIT */
/* Gives up, for good, every way to put a frame on a CAN network.
 *
 * nodoffd is two processes: one listens, records and answers; the other, the
 * switcher (switcher.h), does nothing but set interfaces up to listen.
 *
 * The listening process opens all its CAN sockets while it starts, one for each interface
 * it was told to listen to, and moves them to descriptors from
 * NOD_LOCKDOWN_FIRST_CAN_FD up (a socket is bound again when an adapter comes
 * back, so no new one is ever needed). It gives up all its capabilities
 * (privileges.h), and nod_lockdown() then installs a seccomp filter that allows a list of system calls and refuses the rest with EPERM.
 * From then on the kernel refuses:
 *
 *   1. writing to a CAN socket: every call that can carry data out (write,
 *      writev, pwrite64, pwritev, pwritev2, sendto, sendmsg, sendmmsg) is
 *      allowed only for descriptors below NOD_LOCKDOWN_FIRST_CAN_FD. The
 *      comparison covers the 32 bits the kernel uses, so that high bits in the
 *      argument do not get around it;
 *   2. getting a CAN socket below that number: dup, dup2, dup3, fcntl's
 *      F_DUPFD and F_DUPFD_CLOEXEC, and pidfd_getfd are refused for all
 *      descriptors. (A descriptor that is passed in over a Unix socket needs
 *      a receive call with room for control data; nodoffd reads its clients
 *      with recvfrom, which has none);
 *   3. making another CAN socket, a packet socket that can send raw frames, or any other
 *      socket, and connecting one: another program on this machine or elsewhere may
 *      pass on to a CAN network what it is told. Only when the battery current is to be
 *      read from a socket, sockets of just that family can be made and connected, so
 *      that it can be opened again. (The netlink socket over which interfaces are watched
 *      and the control socket are open before);
 *   4. roundabout ways out: sendfile, splice, tee, vmsplice, io_uring,
 *      asynchronous I/O, ptrace, process_vm_writev, bpf and starting another
 *      program are not on the list.
 *
 * An adapter may also be a serial device, and writing to it would send. So before that, the
 * process gives up opening anything for writing but below what holds the directory of the sessions
 * (lockdown-files.h, by Landlock). Where the kernel has no Landlock that is said at the
 * start, and what remains is that the account nodoffd becomes may not open such devices;
 * under the service there are none (DevicePolicy=closed).
 *
 * What is left to a process that was taken over, and why: with the current from a socket, it
 * can connect to others of that family (a seccomp filter does not see where to). Who feeds
 * the current over TCP should not run a program on that network that takes frames to send;
 * under the service, IPAddressDeny=any has to be lifted for it anyway.
 *
 * Over that netlink socket the process can read what interfaces there are and
 * change nothing: to take listen-only away, or to program the kernel's own CAN
 * gateway, needs CAP_NET_ADMIN, which it no longer has and cannot get again.
 *
 * The switcher has that capability, and no CAN socket, no file and no way to
 * get one: its filter kills it for every call but receiving from and sending to
 * two descriptors, one of which is the pair of sockets to the listening process
 * and the other rtnetlink. It takes two requests of fixed size, and every
 * message it makes for a controller says listen-only (link-request.h; a test
 * reads them). What remains is to trust that much code: a switcher that was
 * made to run other code by a request of fixed size could write other messages to
 * rtnetlink.
 *
 * Every interface is checked to be listen-only before it is used. */
#ifndef NOD_LOCKDOWN_H
#define NOD_LOCKDOWN_H

#include "error.h"

/* Lowest descriptor of a CAN socket; a power of two, because the filter tests
 * bits. Everything that is written to stays below it. */
#define NOD_LOCKDOWN_FIRST_CAN_FD 256

/* Moves a descriptor to the lowest free number from NOD_LOCKDOWN_FIRST_CAN_FD
 * up and closes the old one. Call before nod_lockdown(). Returns the new
 * descriptor, or a negative errno with the old one closed. */
int nod_lockdown_reserve(int fd);

/* Installs the filter for the whole process, which may make such sockets from then on and
 * connect them. Returns 0, or a negative errno
 * with err set; the process must then not go on. Checks that no CAN socket is
 * below the reserved numbers (-EBADF). */
enum nod_lockdown_sockets {
	NOD_LOCKDOWN_NO_SOCKETS,
	NOD_LOCKDOWN_UNIX_SOCKETS,
	NOD_LOCKDOWN_TCP_SOCKETS
};
int nod_lockdown(enum nod_lockdown_sockets sockets, struct nod_error *err);

/* Installs the switcher's filter: receiving from and sending to these two
 * descriptors, and ending. Everything else kills the process. Returns 0, or a
 * negative errno with err set; the process must then not go on. */
int nod_lockdown_switcher(int channel, int netlink, struct nod_error *err);

#endif
