/* Gives up, for good, every way to put a frame on a CAN network.
 *
 * nodoffd opens all its CAN sockets while it starts, one for each interface
 * it was told to listen to, and moves them to descriptors from
 * NOD_LOCKDOWN_FIRST_CAN_FD up (a socket is bound again when an adapter comes
 * back, so no new one is ever needed). nod_lockdown() then installs a seccomp
 * filter that allows a list of system calls and refuses the rest with EPERM.
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
 *   3. making another CAN socket, or a packet socket that can send raw frames:
 *      socket() is allowed for the Unix, netlink and internet families only;
 *   4. roundabout ways out: sendfile, splice, tee, vmsplice, io_uring,
 *      asynchronous I/O, ptrace, process_vm_writev, bpf and starting another
 *      program are not on the list.
 *
 * What remains is netlink, which nodoffd needs to set an interface up again:
 * it could be used to program the kernel's own CAN gateway or to take
 * listen-only away. No code here does the former (tests look for it), and
 * every interface is checked to be listen-only before it is used. */
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

/* Installs the filter for the whole process. Returns 0, or a negative errno
 * with err set; the process must then not go on. Checks that no CAN socket is
 * below the reserved numbers (-EBADF). */
int nod_lockdown(struct nod_error *err);

#endif
