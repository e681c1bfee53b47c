/* SPDX-License-Identifier: MIT */
#include "privileges.h"

#include <errno.h>
#include <grp.h>
#include <linux/capability.h>
#include <pwd.h>
#include <stdint.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

/* Capabilities fill two words of this version of the call (capget(2)). */
#define WORDS _LINUX_CAPABILITY_U32S_3

#define NOBODY ((gid_t)-1)

/* Chosen: more than people are members of; more is an error. */
#define GROUPS_MAX 256

struct sets {
	uint64_t effective, permitted, inheritable;
};

static uint64_t bit(int capability)
{
	return capability < 0 ? 0 : UINT64_C(1) << capability;
}

static int get_sets(struct sets *sets)
{
	struct __user_cap_header_struct header = {_LINUX_CAPABILITY_VERSION_3, 0};
	struct __user_cap_data_struct data[WORDS];

	if (syscall(SYS_capget, &header, data))
		return -errno;
	sets->effective = data[0].effective | (uint64_t)data[1].effective << 32;
	sets->permitted = data[0].permitted | (uint64_t)data[1].permitted << 32;
	sets->inheritable = data[0].inheritable | (uint64_t)data[1].inheritable << 32;
	return 0;
}

/* Nothing is ever handed on: the inheritable set is empty. */
static int set_sets(uint64_t kept)
{
	struct __user_cap_header_struct header = {_LINUX_CAPABILITY_VERSION_3, 0};
	struct __user_cap_data_struct data[WORDS] = {
		{(uint32_t)kept, (uint32_t)kept, 0},
		{(uint32_t)(kept >> 32), (uint32_t)(kept >> 32), 0},
	};

	return syscall(SYS_capset, &header, data) ? -errno : 0;
}

bool nod_privileges_has(int capability)
{
	struct sets sets;

	return !get_sets(&sets) && (sets.effective & bit(capability));
}

int nod_account_find(struct nod_account *account, const char *name, const char *group,
		     struct nod_error *err)
{
	const struct passwd *entry = name ? getpwnam(name) : NULL;
	const struct group *joins = group ? getgrnam(group) : NULL;

	*account = (struct nod_account){name, geteuid(), getegid(), joins ? joins->gr_gid : NOBODY};
	if (group && !joins)
		return nod_error_set(err, ENOENT, "there is no group `%s`", group);
	if (!name)
		return 0;
	if (!entry)
		return nod_error_set(err, ENOENT, "there is no user `%s`", name);
	if (entry->pw_uid != geteuid() && !nod_privileges_has(CAP_SETUID))
		return nod_error_set(err, EPERM, "only root can become user `%s`", name);
	account->uid = entry->pw_uid;
	account->gid = entry->pw_gid;
	return 0;
}

/* The bounding set limits what a started program could get. Without
 * CAP_SETPCAP it stays as whoever started us set it, which no_new_privs makes
 * meaningless. */
static int empty_bounding_set(void)
{
	if (!nod_privileges_has(CAP_SETPCAP))
		return 0;
	for (int capability = 0; prctl(PR_CAPBSET_READ, capability, 0, 0, 0) >= 0; capability++)
		if (prctl(PR_CAPBSET_DROP, capability, 0, 0, 0))
			return -errno;
	return 0;
}

/* Only root can; whoever cannot has to be a member already. */
static int join(gid_t group)
{
	gid_t groups[GROUPS_MAX + 1];
	int count = getgroups(GROUPS_MAX, groups);

	if (group == NOBODY || !nod_privileges_has(CAP_SETGID))
		return 0;
	if (count < 0)
		return -errno;
	groups[count] = group;
	return setgroups((size_t)count + 1, groups) ? -errno : 0;
}

static int become(const struct nod_account *account)
{
	bool somebody_else = account->name && account->uid != geteuid();
	int status;

	if (somebody_else && initgroups(account->name, account->gid))
		return -errno;
	status = join(account->joins);
	if (status || !somebody_else)
		return status;
	if (prctl(PR_SET_KEEPCAPS, 1, 0, 0, 0) ||
	    setresgid(account->gid, account->gid, account->gid) ||
	    setresuid(account->uid, account->uid, account->uid) ||
	    prctl(PR_SET_KEEPCAPS, 0, 0, 0, 0))
		return -errno;
	return 0;
}

static int give_up(const struct nod_account *account, uint64_t kept)
{
	int status = empty_bounding_set();

	if (!status)
		status = become(account);
	if (!status && prctl(PR_CAP_AMBIENT, PR_CAP_AMBIENT_CLEAR_ALL, 0, 0, 0))
		status = -errno;
	if (!status)
		status = set_sets(kept);
	if (!status && prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0))
		status = -errno;
	return status;
}

static bool is_so(const struct nod_account *account, uint64_t kept)
{
	struct sets sets;
	uid_t real, effective, saved;

	if (get_sets(&sets) || getresuid(&real, &effective, &saved))
		return false;
	return sets.effective == kept && sets.permitted == kept && !sets.inheritable &&
	       prctl(PR_GET_NO_NEW_PRIVS, 0, 0, 0, 0) == 1 &&
	       (!account->name || (real == account->uid && effective == real && saved == real));
}

int nod_privileges_drop(const struct nod_account *account, int keep, struct nod_error *err)
{
	int status = give_up(account, bit(keep));

	if (!status && !is_so(account, bit(keep)))
		status = -EPERM;
	if (status)
		return nod_error_set(err, -status, "cannot give privileges up: %s",
				     strerror(-status));
	return 0;
}

void nod_privileges_make_directory(const struct nod_account *account, const char *path)
{
	if (mkdir(path, 0755))
		return;
	if (account->name && chown(path, account->uid, account->gid))
		rmdir(path); /* better none than one that its owner cannot use */
}
