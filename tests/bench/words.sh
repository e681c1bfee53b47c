# SPDX-License-Identifier: MIT
# What is said of a machine, by the cases of the bench and by boot-guest.sh. $case_name: whose
# statements they are.

# check WHAT COMMAND...: runs the command and says whether it held.
check() {
	local what=$1 output
	shift
	if output=$("$@" 2>&1); then
		echo "ok - $case_name: $what"
	else
		echo "not ok - $case_name: $what"
		echo "$output" | sed 's/^/#   /' | head -30
	fi
}

# equal A B: for check; says how they differ.
equal() {
	[ "$1" = "$2" ] || { printf 'expected: %s\ngot:      %s\n' "$2" "$1"; return 1; }
}

# same_file A B
same_file() {
	diff "$1" "$2" | head -10 > difference
	[ ! -s difference ] || { cat difference; return 1; }
}

contains() { # contains TEXT PATTERN
	grep -qE -- "$2" <<< "$1" || { printf 'no "%s" in:\n%s\n' "$2" "$1"; return 1; }
}

lacks() { # lacks TEXT PATTERN
	! grep -E -- "$2" <<< "$1"
}

# wait_for SECONDS COMMAND...: polls until the command holds.
wait_for() {
	local end=$(($(date +%s) + 4 * $1)) # seconds of a machine that has nothing else to do
	shift
	until "$@" > /dev/null 2>&1; do
		[ "$(date +%s)" -lt "$end" ] || { "$@"; return; }
		sleep 0.1
	done
}

# What nodoffd says about itself: status_says PATTERN.
status_says() {
	contains "$(nodoff record status)" "$1"
}
