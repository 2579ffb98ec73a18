//! Parts with two ends in series and in parallel, taken together: what is drawn as one piece.

use crate::model::Kind;

/// One part or several, between two nodes.
#[derive(Clone, Debug, PartialEq)]
pub enum Group {
    /// A part; `true`: its first end is the group's second.
    Part(usize, bool),
    /// One behind the other, with the nodes between them.
    Series(Vec<Group>, Vec<usize>),
    /// Side by side.
    Parallel(Vec<Group>),
}

/// A group between two nodes.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Its ends.
    pub ends: [usize; 2],
    /// What lies between them.
    pub group: Group,
}

impl Group {
    /// The same seen from the other end.
    pub fn turned(&self) -> Group {
        match self {
            Group::Part(i, turned) => Group::Part(*i, !turned),
            Group::Series(all, mids) => {
                Group::Series(all.iter().rev().map(Group::turned).collect(), mids.iter().rev().copied().collect())
            }
            Group::Parallel(all) => Group::Parallel(all.iter().map(Group::turned).collect()),
        }
    }
    /// The part that was written first.
    pub fn first(&self) -> usize {
        match self {
            Group::Part(i, _) => *i,
            Group::Series(all, _) | Group::Parallel(all) => all.iter().map(Group::first).min().unwrap_or(0),
        }
    }
    fn in_series(self) -> (Vec<Group>, Vec<usize>) {
        match self {
            Group::Series(all, mids) => (all, mids),
            one => (vec![one], Vec::new()),
        }
    }
    fn side_by_side(self) -> Vec<Group> {
        match self {
            Group::Parallel(all) => all,
            one => vec![one],
        }
    }
}

impl Edge {
    /// The end that is not this one.
    pub fn other(&self, node: usize) -> usize {
        if self.ends[0] == node { self.ends[1] } else { self.ends[0] }
    }
    /// The group from this node on.
    pub fn from(&self, node: usize) -> Group {
        if self.ends[0] == node { self.group.clone() } else { self.group.turned() }
    }
}

/// Takes together the parts of a stage that have two ends. `shunt` nodes (ground, supplies) are no place to take branches together at,
/// and only nodes that are not `fixed` may vanish between two parts. Chains are let grow up to `longest` parts.
pub fn reduce(
    parts: &[(usize, &Kind)],
    nodes: usize,
    fixed: &dyn Fn(usize) -> bool,
    shunt: &dyn Fn(usize) -> bool,
    longest: usize,
) -> Vec<Edge> {
    let mut edges: Vec<Option<Edge>> = parts
        .iter()
        .filter_map(|(i, kind)| kind.two_ends().map(|ends| Some(Edge { ends, group: Group::Part(*i, false) })))
        .collect();
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); nodes];
    for (i, edge) in edges.iter().enumerate() {
        for end in edge.iter().flat_map(|e| e.ends) {
            at[end].push(i);
        }
    }
    loop {
        let mut changed = false;
        // In series.
        for node in 0..nodes {
            if fixed(node) || shunt(node) || at[node].len() != 2 || at[node][0] == at[node][1] {
                continue;
            }
            let [i, j] = [at[node][0].min(at[node][1]), at[node][0].max(at[node][1])];
            let (Some(a), Some(b)) = (edges[i].clone(), edges[j].clone()) else { continue };
            let (from, to) = (a.other(node), b.other(node));
            if a.ends[0] == a.ends[1] || b.ends[0] == b.ends[1] || from == to {
                continue;
            }
            let (mut all, mut mids) = a.from(from).in_series();
            let (more, more_mids) = b.from(node).in_series();
            if all.len() + more.len() > longest {
                continue;
            }
            mids.push(node);
            all.extend(more);
            mids.extend(more_mids);
            edges[i] = Some(Edge { ends: [from, to], group: Group::Series(all, mids) });
            edges[j] = None;
            at[node].clear();
            for k in &mut at[to] {
                if *k == j {
                    *k = i;
                }
            }
            changed = true;
        }
        // In parallel.
        for i in 0..edges.len() {
            let Some(ends) = edges[i].as_ref().map(|e| e.ends) else { continue };
            if ends.iter().any(|n| shunt(*n)) {
                continue;
            }
            let mut twins: Vec<usize> = at[ends[0]]
                .iter()
                .copied()
                .filter(|j| {
                    *j > i && edges[*j].as_ref().is_some_and(|e| e.ends == ends || e.ends == [ends[1], ends[0]])
                })
                .collect();
            // A part with both ends at one node is there twice.
            twins.sort_unstable();
            twins.dedup();
            for j in twins {
                let (Some(a), Some(b)) = (edges[i].take(), edges[j].take()) else { continue };
                let mut all = a.group.side_by_side();
                all.extend(b.from(ends[0]).side_by_side());
                all.sort_by_key(Group::first);
                edges[i] = Some(Edge { ends, group: Group::Parallel(all) });
                for end in ends {
                    at[end].retain(|k| *k != j);
                }
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
    edges.into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn between(ends: &[[usize; 2]]) -> Vec<Edge> {
        let kinds: Vec<Kind> = ends.iter().map(|e| Kind::Resistor(*e)).collect();
        let parts: Vec<(usize, &Kind)> = kinds.iter().enumerate().collect();
        reduce(&parts, 8, &|n| n < 3, &|n| n == 0, 9)
    }

    #[test]
    fn a_chain_beside_a_part_is_one_piece() {
        let all = between(&[[1, 3], [3, 2], [2, 1]]);
        assert_eq!(all.len(), 1);
        let Group::Parallel(branches) = &all[0].group else { panic!("{all:?}") };
        assert_eq!(branches.len(), 2);
        assert_eq!(all[0].ends, [1, 2]);
    }

    #[test]
    fn what_hangs_to_ground_stays_apart() {
        assert_eq!(between(&[[1, 0], [1, 0], [1, 4], [4, 0]]).len(), 3);
    }

    #[test]
    fn a_ring_without_a_way_out_is_left_alone() {
        assert_eq!(between(&[[3, 4], [4, 3]]).len(), 1);
        assert_eq!(between(&[[3, 3]]).len(), 1);
    }
}
