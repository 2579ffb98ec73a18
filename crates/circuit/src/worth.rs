//! Values that hang on one another by name, each worked out once, after all that it names.
//!
//! The way down from a name is kept in a list of its own and not on the machine's stack, so a chain may be as long as a file. Names
//! that lead back to themselves are found as the strongly connected sets of the names below the one that is asked for
//! (R. Tarjan, "Depth-first search and linear graph algorithms", SIAM J. Comput. 1 (1972); from memory).

use std::hash::Hash;

use notation::Name;
use rustc_hash::FxHashMap;

use crate::expr::{Circle, Term, Why};

/// Who keeps the values.
pub(crate) trait Worth {
    /// What a value goes by.
    type Key: Clone + Eq + Hash;
    /// A value that is worked out already.
    fn known(&self, key: &Self::Key) -> Option<Result<Term, Why>>;
    /// What must be worked out before it.
    fn needs(&self, key: &Self::Key) -> Vec<Self::Key>;
    /// What a person calls it.
    fn name(&self, key: &Self::Key) -> Name;
    /// Works a value out and keeps it; `circle`: it hangs on itself by these, which hang on each other.
    fn settle(&self, key: Self::Key, circle: Option<&Circle>);
}

/// The value behind a key.
pub(crate) fn of<W: Worth>(keeper: &W, key: W::Key) -> Result<Term, Why> {
    if let Some(found) = keeper.known(&key) {
        return found;
    }
    settle_below(keeper, key.clone());
    keeper.known(&key).unwrap_or_else(|| Err(Why::said("a value cannot be worked out")))
}

/// A key on the way down.
struct Step<K> {
    key: K,
    needs: std::vec::IntoIter<K>,
    /// Its number in the order in which keys were met.
    number: usize,
    /// The least number that can be reached from it.
    least: usize,
    /// It names itself.
    itself: bool,
}

/// The keys met so far.
struct Walk<K> {
    numbers: FxHashMap<K, usize>,
    /// Those that are not settled.
    open: Vec<K>,
    way: Vec<Step<K>>,
}

impl<K: Clone + Eq + Hash> Walk<K> {
    fn enter(&mut self, key: K, needs: Vec<K>) {
        let number = self.numbers.len();
        self.numbers.insert(key.clone(), number);
        self.open.push(key.clone());
        let itself = needs.contains(&key);
        self.way.push(Step { key, needs: needs.into_iter(), number, least: number, itself });
    }
}

fn settle_below<W: Worth>(keeper: &W, key: W::Key) {
    let mut walk = Walk { numbers: FxHashMap::default(), open: Vec::new(), way: Vec::new() };
    let needs = keeper.needs(&key);
    walk.enter(key, needs);
    while let Some(step) = walk.way.last_mut() {
        if let Some(next) = step.needs.next() {
            if keeper.known(&next).is_some() {
                continue;
            }
            match walk.numbers.get(&next) {
                // Met before and not settled: it lies on the way, or in a set that leads back to it.
                Some(&number) => step.least = step.least.min(number),
                None => {
                    let needs = keeper.needs(&next);
                    walk.enter(next, needs);
                }
            }
            continue;
        }
        let Some(done) = walk.way.pop() else { return };
        if let Some(above) = walk.way.last_mut() {
            above.least = above.least.min(done.least);
        }
        if done.least == done.number {
            let from = walk.open.iter().rposition(|k| *k == done.key).unwrap_or(0);
            let set = walk.open.split_off(from);
            let circle = (set.len() > 1 || done.itself).then(|| {
                let mut names: Vec<Name> = set.iter().map(|key| keeper.name(key)).collect();
                names.sort_unstable();
                Circle::from(names)
            });
            set.into_iter().for_each(|key| keeper.settle(key, circle.as_ref()));
        }
    }
}
